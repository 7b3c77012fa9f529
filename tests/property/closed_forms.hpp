/// What walls, slots, pins, holes, flat slots and sideways holes must give, in closed form. The same checks judge the
/// slow twin (twin_closed_forms_test.cpp) and the fast engine (engine_closed_forms_test.cpp).
///
/// Sources: threshold model and Gaussian spread, Gibson, Rosen, Stucker, Additive Manufacturing Technologies, 2nd ed.,
/// ch. 4 (title and chapter from memory); Gaussian against Lorentzian pixel spread, Reid et al., 3D Print. Addit.
/// Manuf. 11(2) (2024) 517-528; working curve Cd = Dp ln(E/Ec), Killgore, UV+EB Technology 2023; settled light as a
/// geometric series, derived from Beer-Lambert and additive dose. The integrals of the kernels over strips and discs
/// are standard mathematics.
#pragma once
#include <functional>

#include "support/slow_twin.hpp"

namespace hairline::closed_forms {

/// Anything that fills in light, vanish_s and fuse_s.
using Expose = std::function<twin::Exposed(const twin::Input&)>;

void check_edges_and_corners(const Expose& expose);
void check_walls(const Expose& expose);
void check_slots(const Expose& expose);
void check_flat_slots(const Expose& expose);
void check_sideways_holes(const Expose& expose);
void check_pins_and_holes(const Expose& expose);
void check_lorentzian(const Expose& expose, double tolerance);
void check_heights_and_factors(const Expose& expose);
void check_base_by_hand(const Expose& expose);

}  // namespace hairline::closed_forms
