// Sets that are joined one with another: which of them a thing is in (union-find with path
// halving; Tarjan and van Leeuwen, "Worst-case analysis of set union algorithms", J. ACM 31 (1984)
// 245-281).
#pragma once

#include <cstddef>
#include <numeric>
#include <utility>
#include <vector>

namespace proveout {

class DisjointSets {
 public:
  // Things 0 to count - 1, each in a set of its own.
  explicit DisjointSets(std::size_t count = 0) : parent_(count) {
    std::iota(parent_.begin(), parent_.end(), std::size_t{0});
  }
  std::size_t size() const { return parent_.size(); }
  // The set's lowest thing, which stands for it: so what comes out does not hang on the order of
  // joining.
  std::size_t find(std::size_t thing) {
    while (parent_[thing] != thing) thing = parent_[thing] = parent_[parent_[thing]];
    return thing;
  }
  void join(std::size_t a, std::size_t b) {
    a = find(a);
    b = find(b);
    if (a > b) std::swap(a, b);
    parent_[b] = a;
  }

 private:
  std::vector<std::size_t> parent_;
};

}  // namespace proveout
