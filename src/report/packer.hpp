// Numbers packed for a page's script; viewer/packed.js unpacks them.
#pragma once
#include <string>
#include <vector>

namespace gapfront::report {

/// Zlib's stream of the bytes. Throws Error{Fault::measurement} with `fault` where there is no memory for that.
std::string deflated(const std::string& bytes, const std::string& fault);

/// Whole numbers as differences from the one `stride` before, folded so that small ones of either sign stay small, 0
/// kept for "none", and written as four planes of bytes: the upper planes are then nearly all zero and deflate to
/// nothing.
class Packer {
 public:
  void add(const std::vector<long long>& values, const std::vector<bool>& none, std::size_t stride);
  /// All of it, deflated. Throws Error{Fault::measurement} where there is no memory for that.
  std::string base64() const;

 private:
  std::string bytes_;
};

}  // namespace gapfront::report
