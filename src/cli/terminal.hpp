// What a terminal gets and a pipe does not: bold, and lines broken at its width.
#pragma once
#include <cstddef>
#include <string>

namespace gapfront::cli {

/// A line without the control characters that a terminal would obey: names and notes come from files of others.
std::string harmless(std::string line);
/// Columns of the terminal that stdout is; 0: it is none.
std::size_t terminal_columns();
/// On a terminal, and unless NO_COLOR is set (no-color.org) or TERM is dumb.
bool styled_terminal();
/// Lines broken at spaces; what follows stands under the text of a line that begins with a label of twelve columns.
/// Words in bold count without their marks. 0 columns: as it is.
std::string broken_at(const std::string& text, std::size_t columns);
/// As it is where the terminal has no styles.
std::string bold(const std::string& text, bool styled);

}  // namespace gapfront::cli
