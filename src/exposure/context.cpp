#include "context.hpp"

#include <fmt/core.h>

#include <algorithm>

namespace hairline {

Result<ExposureContext> ExposureContext::create(const CureModel& model, Size size, Pitch pitch,
                                                std::vector<PrintedLayer> layers, const ExposureSettings& settings) {
  auto state = std::make_shared<State>();
  state->model = model;
  state->pitch = pitch;
  state->grid = exposure::Grid(size);
  state->layers = std::move(layers);
  state->settings = settings;
  state->settings.fuse_to_s = std::max(settings.fuse_to_s, settings.normal_s);
  state->reach = exposure::make_disc(3 * model.blur_mm, pitch);
  const double wider_mm = std::max(pitch.x_mm, pitch.y_mm);
  state->closing = exposure::make_disc(std::max(2 * model.blur_mm + wider_mm / 2, wider_mm), pitch);
  state->flat_gap_mm = 4 * model.penetration_depth_mm;
  // Neighbourhoods are searched in a tile and its eight neighbours.
  constexpr auto most = static_cast<int>(exposure::tile_h), most_x = static_cast<int>(exposure::tile_w);
  if (state->reach.reach_x > most_x || state->reach.reach_y > most || 2 * state->closing.reach_x > most_x ||
      2 * state->closing.reach_y > most) {
    return tl::unexpected(Error{ErrorKind::limit, "",
                                fmt::format("a blur of {} mm is {:.1f} pixels wide at this pitch", model.blur_mm,
                                            model.blur_mm / std::min(pitch.x_mm, pitch.y_mm)),
                                fmt::format("a blur of at most {} pixels", most / 4),
                                "Check blur_mm in the record and the pixel pitch of the job."});
  }
  state->kernel = exposure::make_kernel(model.blur_shape, model.blur_mm, pitch);
  if (settings.slopes) {
    state->wider_kernel = exposure::make_kernel(model.blur_shape, model.blur_mm * (1 + exposure::blur_step), pitch);
  }
  ExposureContext context;
  context.state_ = std::move(state);
  return context;
}

}  // namespace hairline
