/// The jobs of the folder as they lie there, before and beside any check.
#pragma once
#include "shared.hpp"

namespace hairline::desk {

/// What opening a job says of it; kept as long as its files stay as they are.
struct JobFacts {
  std::string mark;
  std::optional<Error> error;
  bool asks = false;      ///< it is no layer archive, and says too little
  bool answered = false;  ///< it is read by what was answered on the desk
  std::string title, resin, printer;
  std::uint32_t layers = 0;
  double normal_s = 0;
};

/// POST /api/upload.
void add_upload_routes(Routes& routes, Shared& shared);

}  // namespace hairline::desk
