// A name for a port more.
#pragma once
#include <algorithm>
#include <string>
#include <vector>

namespace gapfront::correct {

/// `what` with the first number from how many there will be on that no port has.
template <class Port>
std::string free_name(const std::vector<Port>& ports, const std::string& what) {
  std::size_t number = ports.size();
  std::string out;
  do out = what + std::to_string(++number);
  while (std::any_of(ports.begin(), ports.end(), [&](const Port& p) { return p.name == out; }));
  return out;
}

}  // namespace gapfront::correct
