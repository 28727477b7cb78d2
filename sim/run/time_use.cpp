#include "sim/run/time_use.h"

namespace proveout::run {

double TimeUse::saves_s() const {
  double out = 0;
  for (const Saving& s : savings) out += s.saves_s;
  return out;
}

}  // namespace proveout::run
