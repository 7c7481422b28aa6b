// The building blocks of report.html.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "gapfront/inspection.hpp"
#include "gapfront/report.hpp"
#include "gapfront/text.hpp"
#include "report/fields.hpp"
#include "report/picture.hpp"
#include "units/words.hpp"

namespace gapfront::report {

/// Text made safe for HTML content and attribute values. Every text from a job file or scan goes through here.
std::string escape(const std::string&);
/// The same for a name or a note that stands by itself: a browser that translates pages leaves it as it is.
std::string own(const std::string&);
/// A text of the catalogue in the words of the page, made safe: told(v, "gap.region"), told(v, message).
std::string told(const Voice&, const std::string& id, std::vector<Argument> = {});
std::string told(const Voice&, const Message&);
std::string told(const Voice&, const Text&);
/// The same where the catalogue's own text has markup in it; only the arguments are made safe.
std::string rich(const Voice&, const std::string& id, std::vector<Argument> = {});

/// A plain decimal number, for drawing.
std::string fixed(double v, int decimals = 1);
/// The same for reading, with the language's decimal sign; a number that stands ready, with or without its unit.
std::string fixed(double v, int decimals, const Voice&);
std::string spelt(std::string number, const Voice&);
/// A share in percent, not to be parted from its sign at a line's end; counted: on some dozens of parts or draws.
std::string percent(double fraction, int decimals, const Voice&);
std::string counted_percent(double fraction, const Voice&);

/// A JSON text made safe inside a script element.
std::string script_safe(std::string json);

// ---- words_of.cpp
Message word_of(Conformity, bool provisional = false);
Message word_of(Kind);
/// Its name; or that it is a ball without one, as masks of the job have names.
Message word_of(const Mask&);

// ---- maps.cpp
/// Plan of one field with colour bar, scale bar, region outlines, vents and stations.
std::string map_figure(const Inspection&, const Field&, const std::string& caption, bool isochrones = false);
/// Its caption: "<b>title.</b> meaning".
std::string map_caption(const Voice&, const Field&);
/// Once beside the maps: which way they lie. A paragraph.
std::string map_orientation(const Voice&);
/// Plan of the classes, by colour and pattern.
std::string class_figure(const Inspection&, const std::string& caption);
/// The same of what stays of air; one class per node.
std::string air_figure(const Inspection&, const std::string& caption);
/// The deviation seen from a corner and above.
std::string corner_figure(const Inspection&, const Field&, const std::string& caption);
/// The plan view that every map uses.
View map_view(const Mesh&);

/// The photo of the tool for a page's header; empty without one.
std::string photo_of(const Inspection&);

// ---- viewer.cpp
/// The interactive sheet and the section across the cavity; both empty until the page's script fills them.
std::string viewer(const Inspection&);
/// The texts that a script asks for by say("…"), under their identifiers; where a count chooses, [one, many]. JSON.
std::string script_words(const std::string& script, const Voice&);
/// What the page's script reads: the sheet and its fields, deflated, and what is drawn over them. JSON, script-safe.
std::string page_data(const Inspection&);

// ---- trial_section.cpp
/// "Try it on this mold": empty until the page's script fills it, and for an inspection without its data.
std::string trial_section(const Inspection&);
/// What that script reads: the data, and the compiled stages. Elements that run nothing.
std::string trial_scripts(const Inspection&);

// ---- charts.cpp
struct Curve {
  Message name;
  std::vector<std::pair<double, double>> points;
  bool dashed = false;
};
/// Over the time in s; all values in one unit.
std::string line_chart(const Voice&, const Message& title, const std::string& unit, const std::vector<Curve>&,
                       double limit = 0);
std::string histogram_chart(const Inspection&);

// ---- doubt_section.cpp
/// In place of verdict, maps, front, corrections: why nothing is judged, what to check, and the map as it was
/// registered.
std::string doubt_sections(const Inspection&);
/// What masks leave out: one line with their names; empty without any.
std::string masked_line(const Inspection&);

// ---- bars.cpp
std::string budget_chart(const Inspection&);
std::string fraction_bar(const Verdict&, const Voice&);
std::string residual_chart(const Inspection&);
std::string change_chart(const Inspection&);

// ---- sections.cpp
/// What to scan first, in a paragraph, as conformity::scan_first(); nothing where that is empty.
std::string scan_first(const Inspection&, bool work, const Voice&);
std::string verdict_section(const Inspection&);
std::string map_section(const Inspection&);
std::string front_section(const Inspection&);
std::string corrections_section(const Inspection&);

// ---- air_section.cpp
/// Bubbles and dry places: map, classes, what would cure them; empty where it was not asked for.
std::string air_section(const Inspection&);

// ---- clamping_section.cpp
/// What would hold a mold shut that opens after the corrections too, in paragraphs; nothing where it stays closed.
std::string against_opening(const Inspection&, const Voice&);
/// Closing, opening, breathing, glass by zone, process advice.
std::string clamping_section(const Inspection&);
std::string clamping_sentence(const Inspection&);  ///< the same in one line, HTML; empty for an older result

// ---- lead_section.cpp
/// Where the front leads, what feeds it, how sure that is.
std::string lead_regions(const Inspection&);

// ---- money_section.cpp
/// How candidates are ranked where prices decide.
Text ranking_by_cost(const CorrectionPlan&);
/// What a candidate saves the run, with its interval.
std::string saving_cell(const Correction&, const CorrectionPlan&, const Voice&);
/// Sets of corrections that no other beats in hours and in bad parts at once; empty where there is nothing to choose.
std::string options_table(const CorrectionPlan&, const Voice&);
/// Glass and resin of a part, what they cost, and whether the chosen corrections pay.
std::string material_table(const Inspection&, const Voice&);

// ---- open_points.cpp
/// Under the verdict, in report and work order: what was guessed and not confirmed, and a proposed seal line.
std::string open_points(const Inspection&);

// ---- sections_proof.cpp
/// How the registration came out: agreement of targets and methods, lands, residuals.
std::string registration_tables(const Inspection&);
std::string uncertainty_section(const Inspection&);
std::string provenance_section(const Inspection&);
std::string cautions_section(const Voice&);

// ---- gap_sections.cpp
std::string zones_table(const Inspection&);
std::string rigid_table(const Inspection&);
std::string mean_budget_table(const Inspection&);
std::string spots_chart(const Inspection&);
std::string extra_inputs_table(const Inspection&);

// ---- expected.cpp
/// Whether the corrections of an earlier inspection did what it predicted; empty when none was given.
std::string expected_section(const Inspection&);
/// The work order beside the page, how good the stacks are known to be, and what is left as it is.
std::string work_section(const Inspection&);

/// Figures as the reader's language and units have them, not parted at a line's end: for a cell as they are, in a
/// sentence as arg::name(…). "12.3 mm":
std::string with_unit(double value, Dimension, const Voice&);
/// A length by its expanded uncertainty: as many digits as leave that two.
std::string with_U_of(double mm, double U, const Voice&);
/// A time within a filling, to what its mesh resolves; a distance by tape.
std::string with_time(double s, double fill_time, const Voice&);
std::string by_tape(double mm, const Voice&);
/// "x 120, y −40, z −12 mm"
std::string place(const Vec3&, const Voice&);
/// What of the outcome follows the verdict: areas, air, clamping. Chances now and then.
Text outcome_after_verdict(const Inspection&);
/// The outcome's line as a paragraph.
std::string outcome_para(const Inspection&);
/// Pieces of a section; `html` and `text` are markup already.
std::string heading(const std::string& id, const std::string& text);
std::string para(const std::string& html);
/// A list with a line for each message.
std::string list(const Inspection&, const Messages& items);
/// The header of a table: texts of the catalogue; what has no dot stands as it is ("", "y", "U").
std::vector<std::string> heads(const Voice&, const std::vector<std::string>& ids);
/// Of "lower", "upper" and "both".
Message half_word(const std::string& half);
/// A link that shows this place in map and section (viewer/places.js); without a script it leads to the map.
std::string go(const Vec3& at, const std::string& html);
std::string go(const Vec3& at, const Voice&);  ///< the place itself, as place()
/// A table; the first row is the header; cells are HTML already. `row_ids`: of the rows below it, for links.
std::string table(const std::vector<std::vector<std::string>>& rows, const std::string& caption = "",
                  const std::vector<std::string>& row_ids = {});

}  // namespace gapfront::report
