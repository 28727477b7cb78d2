#include "parser/base/sha256.h"

#include <openssl/evp.h>

#include <array>
#include <new>

namespace proveout {
namespace {

// Nothing but memory can be missing: the algorithm is in the library's own provider.
void need(int done) {
  if (done != 1) throw std::bad_alloc();
}

EVP_MD_CTX* new_context() {
  EVP_MD_CTX* const context = EVP_MD_CTX_new();
  need(context != nullptr ? 1 : 0);
  return context;
}

}  // namespace

struct Sha256::State {
  std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context{new_context(), EVP_MD_CTX_free};
};

Sha256::Sha256() : state_(std::make_unique<State>()) {
  need(EVP_DigestInit_ex(state_->context.get(), EVP_sha256(), nullptr));
}
Sha256::Sha256(const Sha256& other) : state_(std::make_unique<State>()) {
  need(EVP_MD_CTX_copy_ex(state_->context.get(), other.state_->context.get()));
}
Sha256& Sha256::operator=(const Sha256& other) {
  need(EVP_MD_CTX_copy_ex(state_->context.get(), other.state_->context.get()));
  return *this;
}
Sha256::~Sha256() = default;

void Sha256::add(const void* bytes, std::size_t count) {
  need(EVP_DigestUpdate(state_->context.get(), bytes, count));
}

std::string Sha256::text() const {
  const Sha256 ended(*this);  // a digest that was read takes no more bytes
  std::array<unsigned char, 32> digest{};
  need(EVP_DigestFinal_ex(ended.state_->context.get(), digest.data(), nullptr));
  constexpr std::string_view digits = "0123456789abcdef";
  std::string text;
  for (const unsigned char byte : digest) {
    text += digits[byte >> 4];
    text += digits[byte & 15];
  }
  return text;
}

std::string sha256(std::string_view bytes) {
  Sha256 digest;
  digest.add(bytes);
  return digest.text();
}

}  // namespace proveout
