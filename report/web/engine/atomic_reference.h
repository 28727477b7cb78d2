// Included before sim/stock/engagement.cpp: std::atomic_ref of C++20 (clause 33.5.7), which clang
// 14's C++ library lacks, as far as that source needs it, over the compiler's own atomic
// operations.
#pragma once

#include <atomic>

#if defined(_LIBCPP_VERSION) && !defined(__cpp_lib_atomic_ref)
namespace std {

template <typename T>
class atomic_ref {
 public:
  explicit atomic_ref(T& of) : of_(&of) {}
  T load(memory_order order) const { return __atomic_load_n(of_, static_cast<int>(order)); }
  void store(T value, memory_order order) const {
    __atomic_store_n(of_, value, static_cast<int>(order));
  }
  T fetch_add(T value, memory_order order) const {
    return __atomic_fetch_add(of_, value, static_cast<int>(order));
  }
  T fetch_or(T value, memory_order order) const {
    return __atomic_fetch_or(of_, value, static_cast<int>(order));
  }
  bool compare_exchange_weak(T& expected, T wanted, memory_order order) const {
    return __atomic_compare_exchange_n(of_, &expected, wanted, true, static_cast<int>(order),
                                       static_cast<int>(memory_order_relaxed));
  }

 private:
  T* of_;
};

}  // namespace std
#endif
