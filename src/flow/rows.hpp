// Rows of a symmetric graph laid out for sums over neighbours.
#pragma once
#include <vector>

namespace gapfront::flow {

/// Every row has four places for neighbours of smaller number and four for larger ones, whether it needs them or not:
/// the neighbours of a sheet's node differ in number, and a loop of another length in every row costs more than the
/// places that stay empty. What does not fit in stands behind all rows. An empty place leads to the row itself and is
/// worth nothing. Sums run in the order of the neighbours' numbers.
struct Rows {
  static constexpr int kBelow = 4, kAbove = 4, kWide = kBelow + kAbove;
  Rows() = default;
  /// Row i has the neighbours to[start[i]] … to[start[i + 1] − 1], ascending.
  Rows(const std::vector<int>& start, const std::vector<int>& to);
  std::vector<int> to;     ///< row i: kWide places from i·kWide on
  std::vector<int> place;  ///< per neighbour as given
  /// Of a row that is too long: places [below, above) come before its own, [above, end) after them.
  struct More {
    int below, above, end;
  };
  std::vector<int> more_of;  ///< per row, −1: none
  std::vector<More> more;
  std::size_t places() const { return to.size(); }
  std::vector<double> laid(const std::vector<double>& values) const;  ///< given per neighbour
};

/// Rows with a value in each place, for inner loops.
struct Weighted {
  const int *to, *more_of;
  const Rows::More* more;
  const double* w;
  Weighted(const Rows& r, const std::vector<double>& values)
      : to(r.to.data()), more_of(r.more_of.data()), more(r.more.data()), w(values.data()) {}

  /// s + Σ w z over the smaller neighbours, ascending.
  double below(int i, double s, const double* z) const {
    if (const int m = more_of[i]; m >= 0)
      for (int e = more[m].below; e < more[m].above; ++e) s += w[e] * z[to[e]];
    const int* t = to + Rows::kWide * i;
    const double* v = w + Rows::kWide * i;
    for (int k = 0; k < Rows::kBelow; ++k) s += v[k] * z[t[k]];
    return s;
  }
  /// s + Σ w z over the larger neighbours, descending.
  double above(int i, double s, const double* z) const {
    if (const int m = more_of[i]; m >= 0)
      for (int e = more[m].end; e-- > more[m].above;) s += w[e] * z[to[e]];
    const int* t = to + Rows::kWide * i;
    const double* v = w + Rows::kWide * i;
    for (int k = Rows::kWide; k-- > Rows::kBelow;) s += v[k] * z[t[k]];
    return s;
  }
  /// f over all places of the row, ascending.
  template <class F>
  void each(int i, F f) const {
    const int m = more_of[i];
    if (m >= 0)
      for (int e = more[m].below; e < more[m].above; ++e) f(w[e], to[e]);
    const int* t = to + Rows::kWide * i;
    const double* v = w + Rows::kWide * i;
    for (int k = 0; k < Rows::kWide; ++k) f(v[k], t[k]);
    if (m >= 0)
      for (int e = more[m].above; e < more[m].end; ++e) f(w[e], to[e]);
  }
};

}  // namespace gapfront::flow
