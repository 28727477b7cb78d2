// Whether a cut is likely to sing (chatter), learned from cuts heard at the machine.
//
// The zero-order model knows how a limit depth changes with diameter, stick-out, arc and teeth, but
// its level, which hangs on collet, spindle, frame and damping, only to a factor of ten. So the
// level is one factor of the machine, s: a cut of depth d sings where d is beyond s b0, b0 the
// least limit over all speeds of the tool clamped stiffly. ln s is normal before anything is heard,
// median 4, factor 3.2 (chosen: a slot 1.5 mm deep in 6061 with a 6 mm tool stands at even odds); a
// cut told quiet weighs each s by Phi(ln(s b0 / d) / sigma), one told singing by the rest to 1.
// Similar in spirit: Bayesian updating of stability from test cuts, Karandikar, Schmitz and others,
// J. Manuf. Sci. Eng., doi 10.1115/1.4027226. Everything else here is a choice.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "parser/job/job.h"
#include "sim/cutting/load.h"
#include "sim/cutting/material.h"

namespace proveout::cutting {

class MachineFactor {
 public:
  MachineFactor();
  // What was heard. least_limit: b0 of that cut, mm, above 0; depth: mm, above 0.
  void hear(double least_limit, double depth, bool sings);
  // Probability that a cut sings. same_tool: as a cut heard, tool and stick-out.
  double sings(double least_limit, double depth, bool same_tool) const;
  // The depth below which the limit lies with this probability, mm.
  double limit_quantile(double least_limit, double probability) const;

  // Of lobes, wear and the rest that a factor does not know: of ln d. Of another tool or stick-out
  // root 2 times that.
  static const double spread;

 private:
  std::vector<double> log_factor_, weight_;  // weights add up to 1
};

// A cut about which is asked.
struct AskedCut {
  double rpm = 0, depth = 0, width = 0;  // 1/min, mm, mm
  double arc_from = 0, arc_to = 0;       // deg, engagement's sense
  bool clockwise = true;
};

// All a job's known cuts, seen from one of its tools in one material.
class KnownCuts {
 public:
  // materials: of the job, by whose names known cuts say what was cut.
  KnownCuts(const job::Job& job, const job::Tool& tool, const Material& material);

  // How many of the machine's known cuts could be used, and words that list them ("T1 1.5 mm deep
  // at S18000: quiet").
  std::size_t count() const { return used_.size(); }
  std::string listed() const;
  // Why some could not be used; empty: all could.
  const std::vector<std::string>& unused() const { return unused_; }

  // No deeper and no wider than a cut told quiet, with teeth, speed and material as there and a
  // tool no longer and no thinner: quiet, without sums.
  bool known_quiet(const AskedCut& cut) const;
  // least_limit: b0 of that cut, mm (LoadModel::least_limit_depth_mm of this tool).
  double sings(const AskedCut& cut, double least_limit) const;
  // 10, 50 and 90 %: where the limit lies, mm.
  Band limit_depth(double least_limit) const;
  // A pitch measured with this tool at this stick-out, Hz, that lies where the tool's own bending
  // does (0.4 to 1 of its clamped frequency); 0: none.
  double tool_pitch_hz() const { return tool_pitch_; }

 private:
  struct Used {
    job::KnownCut cut;
    const job::Tool* tool = nullptr;
    double stickout = 0;
    bool same_tool = false;  // as the tool asked about
    bool of_frame = false;   // its pitch, 100 to 800 Hz, is the machine's, whatever the tool
    double least_limit = 0;  // b0 of the cut as made
    double frame_limit = 0;  // of_frame: b0 of that cut with this tool's teeth and material
  };
  std::vector<Used> used_;
  std::vector<std::string> unused_;
  MachineFactor factor_;
  job::Tool tool_;
  std::string material_;
  bool same_tool_ = false;
  double tool_pitch_ = 0;
};

}  // namespace proveout::cutting
