// The fields of the sheet, once, for every output: maps, PLY, VTU and JSON use the same names and numbers.
#pragma once
#include <string>
#include <vector>

#include "gapfront/inspection.hpp"
#include "report/colour.hpp"

namespace gapfront::report {

struct Field {
  std::string id;       ///< name in the data files, with its unit: "gap_mm"
  Message title;        ///< on screen
  Message meaning;      ///< one sentence, or a few
  Dimension dimension;  ///< of `values`, in internal units
  Scale scale;
  bool about_zero;             ///< colour scale symmetric about zero
  std::vector<double> values;  ///< per node; NaN where there is none
  bool on_screen = true;       ///< false: in the data files only
  int decimals = -1;           ///< of its numbers on screen; −1: those of the dimension
  bool asked_for = false;      ///< by the job; false: it is always in the files
};

/// All fields, in the order in which they are written.
std::vector<Field> fields(const Inspection&);
/// Whether the files have it: what nobody asked for and nothing is known of takes no room there.
bool in_files(const Field&);
/// Puts the values where fields() takes them from; a field without any changes nothing. False: none has any.
bool put_fields(const std::vector<Field>&, Inspection&);
const Field& find_field(const std::vector<Field>&, const std::string& id);
const Field& find_field(std::vector<Field>&&, const std::string& id) = delete;  ///< it refers into the list
double median_U(const std::vector<Field>&);                                     ///< mm; NaN: none is known

/// A number of this dimension for people, in the job's units, without the unit, and the unit itself.
std::string shown(double value, Dimension, UnitSystem);
std::string shown_unit(Dimension, UnitSystem);
double per_shown_unit(Dimension, UnitSystem);  ///< internal units in one shown unit
/// The same number as a whole count of its last shown decimal, and how many decimals that are: what the page's script
/// gets, so that it reads out exactly what is printed. The value must be finite.
long long shown_steps(double value, const Field&, UnitSystem);
int decimals_of(const Field&, UnitSystem);
int shown_decimals(Dimension, UnitSystem);

}  // namespace gapfront::report
