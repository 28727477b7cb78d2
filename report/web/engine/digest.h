// The few calls of the cryptography library that parser/base/sha256.cpp makes, over libmd: all of
// that library would be megabytes for one digest (FIPS 180-4).
#pragma once

#include <sha2.h>

#include <cstddef>
#include <new>

struct EVP_MD {};
struct EVP_MD_CTX {
  SHA2_CTX digest;
};

inline EVP_MD_CTX* EVP_MD_CTX_new() { return new (std::nothrow) EVP_MD_CTX; }
inline void EVP_MD_CTX_free(EVP_MD_CTX* context) { delete context; }
inline const EVP_MD* EVP_sha256() { return nullptr; }
inline int EVP_DigestInit_ex(EVP_MD_CTX* context, const EVP_MD*, void*) {
  SHA256Init(&context->digest);
  return 1;
}
inline int EVP_MD_CTX_copy_ex(EVP_MD_CTX* to, const EVP_MD_CTX* from) {
  *to = *from;
  return 1;
}
inline int EVP_DigestUpdate(EVP_MD_CTX* context, const void* bytes, std::size_t count) {
  SHA256Update(&context->digest, static_cast<const unsigned char*>(bytes), count);
  return 1;
}
inline int EVP_DigestFinal_ex(EVP_MD_CTX* context, unsigned char* digest, unsigned int*) {
  SHA256Final(digest, &context->digest);
  return 1;
}
