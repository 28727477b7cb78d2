// SHA-256 (FIPS 180-4), computed by the cryptography library of OpenSSL.
#pragma once

#include <cstddef>
#include <memory>
#include <string>
#include <string_view>

namespace proveout {

// A digest of bytes given piece by piece. A copy goes on from where its original stands.
class Sha256 {
 public:
  Sha256();
  Sha256(const Sha256& other);
  Sha256& operator=(const Sha256& other);
  ~Sha256();

  void add(const void* bytes, std::size_t count);
  void add(std::string_view bytes) { add(bytes.data(), bytes.size()); }
  // Of all bytes so far: 64 hexadecimal digits in lower case, as `sha256sum` prints them.
  std::string text() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

// The digest of these bytes, as Sha256::text.
std::string sha256(std::string_view bytes);

}  // namespace proveout
