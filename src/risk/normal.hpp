/// The standard normal law.
#pragma once

namespace hairline::risk {

/// z with Phi(z) = chance; within -10 .. 10.
double normal_quantile(double chance);

}  // namespace hairline::risk
