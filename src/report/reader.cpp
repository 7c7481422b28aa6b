#include "report/describe/reader.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>

#include "core/plain_text.hpp"
#include "gapfront/error.hpp"

namespace gapfront::report {

Reader::Reader(const Reader& up, const char* key, std::size_t index)
    : json_(key ? up.json_[key] : up.json_[index]),
      nodes_(up.nodes_),
      up_(&up),
      key_(key),
      index_(index),
      largest_(up.largest_),
      depth_(up.depth_ + 1) {
  need(depth_ < 64, "is nested too deeply");  // the deepest value has a depth of 10; the stack has room for far more
  const std::size_t n = key ? std::strlen(key) : 0;
  if (n >= 2 && (n == 2 || key[n - 3] == '_') && std::strcmp(key + n - 2, "mm") == 0) no_larger_than(kFarthestPlace);
}

Reader Reader::at(const char* key) const {
  need(json_.is_object() && json_.contains(key), std::string("lacks ") + key);
  return Reader(*this, key, 0);
}

std::string Reader::way() const {
  if (!up_) return "";
  const std::string before = up_->way();
  return before + (before.empty() ? "" : ".") + (key_ ? key_ : std::to_string(index_));
}

void Reader::fail(const std::string& what) const {
  const std::string at = way();
  throw Error(Fault::input, (at.empty() ? "the file" : at) + ": " + what);
}

double Reader::number() const {
  need(json_.is_number(), "must be of type \"number\"");
  const double x = json_.get<double>();
  need(std::abs(x) <= largest_, "is larger than anything a mold has");
  return x;
}

double Reader::whole(double low) const {
  need(json_.is_number() && number() == std::floor(number()), "must be of type \"integer\"");
  need(number() >= low, "must not be below " + std::to_string(static_cast<int>(low)));
  return number();
}

void Reader::size(std::size_t exactly) const {
  need(json_.is_array(), "must be of type \"array\"");
  need(exactly == 0 || json_.size() == exactly, "must have " + std::to_string(exactly) + " items");
}

const std::string& Reader::text() const {
  need(json_.is_string(), "must be of type \"string\"");
  const auto& out = json_.get_ref<const std::string&>();
  need(is_plain(out), "holds control characters");
  return out;
}

std::size_t Reader::place_in(const std::vector<std::string>& names) const {
  const auto found = json_.is_string() ? std::find(names.begin(), names.end(), text()) : names.end();
  if (found == names.end()) fail("is none of " + Json(names).dump());
  return found - names.begin();
}

void Reader::bounds(double low, double high, bool above) const {
  const double x = number();
  need(above ? x > low : x >= low, (above ? "must be above " : "must not be below ") + Json(low).dump());
  need(x <= high, "must not be above " + Json(high).dump());
}

std::size_t nodes_of(const Json& file) {
  const auto sheet = file.find("sheet");
  if (sheet == file.end() || !sheet->is_object()) return 0;
  const auto nodes = sheet->find("nodes_mm");
  return nodes == sheet->end() ? 0 : nodes->size();
}

}  // namespace gapfront::report
