// Where the time of a run goes: wall and processor time of its phases, which follow each other.
#pragma once

#include <string_view>
#include <vector>

namespace proveout::pipeline {

struct Phase {
  std::string_view name;   // of static storage
  double wall_s = 0;       // s
  double processor_s = 0;  // s, of all threads together
};

class PhaseClock {
 public:
  // Does the work and adds its time to the phase of this name; phases do not lie in each other.
  template <class Work>
  decltype(auto) time(std::string_view name, Work work) {
    const Running running(*this, name);
    return work();
  }
  // In the order in which they first began.
  const std::vector<Phase>& phases() const { return phases_; }

 private:
  class Running {
   public:
    Running(PhaseClock& clock, std::string_view name);
    ~Running();
    Running(const Running&) = delete;
    Running& operator=(const Running&) = delete;

   private:
    PhaseClock& clock_;
    std::size_t phase_;
    double wall_, processor_;
  };
  std::vector<Phase> phases_;
};

}  // namespace proveout::pipeline
