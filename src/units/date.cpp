// Days by ISO 8601, the one form in which a date is read and written.
#include <cctype>
#include <chrono>
#include <cstdio>

#include "gapfront/units.hpp"

namespace gapfront {

std::optional<long> day_number(const std::string& date) {
  if (date.size() != 10) return std::nullopt;
  for (std::size_t i = 0; i < date.size(); ++i)
    if (i == 4 || i == 7 ? date[i] != '-' : !std::isdigit(static_cast<unsigned char>(date[i]))) return std::nullopt;
  const auto number = [&](std::size_t from, std::size_t count) { return std::stoi(date.substr(from, count)); };
  const std::chrono::year_month_day day{std::chrono::year(number(0, 4)), std::chrono::month(unsigned(number(5, 2))),
                                        std::chrono::day(unsigned(number(8, 2)))};
  if (!day.ok()) return std::nullopt;
  return std::chrono::sys_days(day).time_since_epoch().count();
}

std::string date_text(long day) {
  const std::chrono::year_month_day d{std::chrono::sys_days(std::chrono::days(day))};
  char text[40];
  std::snprintf(text, sizeof text, "%04d-%02u-%02u", int(d.year()), unsigned(d.month()), unsigned(d.day()));
  return text;
}

}  // namespace gapfront
