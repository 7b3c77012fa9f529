#include "shared.hpp"

namespace hairline::desk {

void add_night_routes(Routes& routes, Shared& shared) {
  (void)routes, (void)shared;
}

}  // namespace hairline::desk
