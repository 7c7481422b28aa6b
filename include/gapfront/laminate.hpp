// What the glass does in the gap: fibre fraction, permeability, compaction, open channel.
#pragma once
#include <optional>
#include <string>
#include <vector>
#include "gapfront/cavity.hpp"
#include "gapfront/geometry.hpp"
#include "gapfront/message.hpp"

namespace gapfront {

/// Permeability of the glass over its fibre volume fraction.
struct PermeabilityLaw {
  /// The form of K(Vf).
  enum class Kind { power, exponential, kozeny_carman, table } kind = Kind::power;
  double a = 0, b = 0;  ///< power K = a·Vf^−b; exponential K = a·e^(−b·Vf); Kozeny–Carman k = a; mm²
  std::vector<std::pair<double, double>> table;  ///< (Vf, K) ascending in Vf; log-linear between, clamped outside
  double ratio = 1;                              ///< K2/K1, in plane
  double spread = 0;                             ///< relative standard uncertainty of K
  double at(double vf) const;                    ///< K1, mm²
};
/// Fibre volume fraction of squeezed glass.
struct CompactionLaw {
  /// The form of Vf(P).
  enum class Kind { power, table } kind = Kind::power;
  double a = 0, b = 0;                           ///< Vf = a·P^b, P in Pa (Robitaille & Gauvin 1998, form)
  std::vector<std::pair<double, double>> table;  ///< (Vf, P) ascending
  double pressure(double vf) const;              ///< Pa needed to hold Vf
};
/// One number of a built-in reinforcement as a table has it: what, how much, how sure, from where.
struct SourcedNumber {
  std::string what, value, uncertainty, source;
};
/// How well the numbers of a glass are known, relative standard uncertainties, for the draws; 0: not drawn. The batch
/// has the first three and `permeability` in common, `pieces` goes from place to place.
struct GlassSpread {
  double areal_weight = 0, loft = 0, vf = 0, permeability = 0, pieces = 0;
  /// Whether anything of a whole batch is drawn.
  bool batch() const { return areal_weight > 0 || loft > 0 || vf > 0 || permeability > 0; }
};
/// A generic reinforcement; every number carries where it is from.
struct Reinforcement {
  std::string name;
  Messages source;           ///< where its numbers are from, a clause each
  double areal_weight = 0;   ///< g/mm², of one ply
  double loft = 0;           ///< free thickness of one ply, mm
  double density = 2.55e-3;  ///< fibre, g/mm³
  PermeabilityLaw permeability;
  CompactionLaw compaction;
  std::vector<SourcedNumber> numbers{};  ///< of a built-in one; `source` says the same
  GlassSpread spread{};
  /// Length of which a strip bends by its own weight, mm (Peirce 1930; half the overhang at 41.5° of ASTM D1388). 50 mm
  /// is an order of magnitude for glass, from memory.
  double bending_length = 50;
  bool cloth = false;  ///< of threads that cross squarely (woven, biaxial): it drapes as a net does
  /// Whether all numbers are the job's own.
  bool from_job() const { return source.size() == 1 && source[0].id == "clamping.job-file"; }
};

namespace laminate {
/// Built-in generic list.
const std::vector<Reinforcement>& reinforcements();
/// Finds by name; throws Error{Fault::input} suggesting the nearest known name.
const Reinforcement& find_reinforcement(const std::string& name);
}  // namespace laminate

/// So many plies of one reinforcement, laid in one direction.
struct Ply {
  Reinforcement reinforcement;
  double count = 1;
  double direction_deg = 0;
  double threads_deg = 90;  ///< of a cloth, from its direction 0 to the threads that cross it; 90: not sheared
};
/// A part of the sheet where the glass is another.
struct LaminateZone {
  std::string name;
  Region where;
  bool adds = false;  ///< true: an overlap or patch on top of what is there; false: replaces it
  std::vector<Ply> plies;
  /// Draping: this many times the glass per area lies here than on the flat, for the whole stack (1/cos of the shear
  /// angle; 1/stretch). With `drape` or an axis given and no plies, the zone only changes what is there.
  double drape = 1;
  Vec3 axis = Vec3::Zero();    ///< direction 0 of the plies, projected on the sheet; zero: as elsewhere
  std::vector<Vec3> follow{};  ///< or direction 0 runs along this path, taken at its nearest place
};
/// How the glass lies in an inside radius: pressed home all along; pushed in by hand; laid over; with roving behind it.
enum class Packing : char { packed, tucked, loose, roving };
const char* to_string(Packing);
/// An inside radius of the lower face. Glass that does not follow it leaves a channel along it.
struct InsideRadius {
  std::string name;
  std::vector<Vec3> path;            ///< along the middle of the rounding, on the face
  double radius = 5;                 ///< of the face, mm
  double turn = 1.5707963267948966;  ///< by which the face turns there, rad
  Packing packing = Packing::packed;
  double factor = 1;                              ///< on the height of the bridge, for the draws
  double width() const { return radius * turn; }  ///< of the rounding, mm
};
/// How cloth is laid on the sheet.
struct DrapeOptions {
  Vec3 start = Vec3::Zero();          ///< where it is laid down first; near the sheet, mm
  Vec3 direction = Vec3::Zero();      ///< its direction 0 there; zero: the laminate's axis
  double lock = 0.87266462599716477;  ///< shear at which cloth locks and wrinkles, rad: 50° (from memory, 40 to 60°)
  bool on = false;                    ///< otherwise all glass is taken as on a flat
};
/// Cloth at a node of the sheet.
struct DrapedNode {
  double turn = 0;                      ///< of its warp from where it lies without draping, rad
  double threads = 1.5707963267948966;  ///< from warp to weft, rad
};
/// All cloth of one direction on the sheet.
struct DrapedCloth {
  double direction_deg = 0;         ///< of its warp, 0 to 90: threads that cross squarely are alike by quarter turns
  std::vector<DrapedNode> nodes{};  ///< one per node; as on a flat where the net does not come to
  double most_shear = 0;            ///< greatest shear at a node, rad
  int most_at = -1;                 ///< that node
  double locked_area = 0;           ///< sheared beyond the lock, mm²
  double missed_area = 0;           ///< that the net does not come to, mm²
};
/// The glass, where it lies, and what presses on it.
struct LaminateOptions {
  std::vector<Ply> plies;  ///< everywhere, unless a zone says otherwise
  std::vector<LaminateZone> zones;
  double resin_density = 1.2e-3;       ///< hardened, g/mm³
  double clamping_pressure = 50662.5;  ///< available to compact the glass, Pa
  double weight_fraction_low = 0, weight_fraction_high = 1;
  Vec3 axis = Vec3::UnitX();  ///< direction 0 of the plies, in tool coordinates, projected on the sheet
  std::vector<InsideRadius> radii{};
  DrapeOptions drape{};
  std::vector<DrapedCloth> draped{};  ///< by laminate::drape(), for one sheet; empty: as on a flat
};

/// State at one node for a given gap.
struct NodeLaminate {
  double vf = 0, weight_fraction = 0;
  double porosity = 1;       ///< resin volume / cavity volume, channel included
  double loft = 0;           ///< of the stack, mm
  double channel = 0;        ///< gap − loft where positive, mm
  double compaction = 0;     ///< Pa
  double load_fraction = 0;  ///< of the clamping pressure there is
  double conductance = 0;  ///< Σ K·h + c³/12, along the first direction, mm³ (flow per width = conductance/µ·|∇p|)
  double conductance2 = 0;        ///< the same across it
  Vec3 direction = Vec3::Zero();  ///< first direction in the sheet (zero: isotropic)
  double fluid_thickness = 0;     ///< resin volume per sheet area, mm
  double shear = 0;               ///< greatest of the cloth that lies there, rad
  double beside = 0;  ///< of both conductances together, what runs in a channel along an inside radius, mm³
  bool under_filled = false, over_packed = false, weight_out = false;
};
/// What the gap does to the glass in one zone. A place belongs to every zone that holds it.
struct ZoneState {
  std::string name;                                                    ///< "" for what lies in no zone
  double area = 0, under_filled = 0, over_packed = 0, weight_out = 0;  ///< mm²
  double load = 0;                                                     ///< ∫ compaction dA, Pa·mm²
  double vf_min = 0, vf_mean = 0, vf_max = 0, weight_mean = 0;         ///< area-weighted means
};
/// What the glass does all over the sheet.
struct LaminateMap {
  std::vector<NodeLaminate> nodes;
  std::vector<ZoneState> zones;  ///< what lies in no zone first, then the zones in the order given
  double under_filled_area = 0, over_packed_area = 0, weight_out_area = 0;  ///< mm²
  double compaction_load = 0;                                               ///< ∫ compaction dA, Pa·mm² (µN)
};

namespace laminate {
/// What the glass does at every node, and summed over the sheet. One gap per node, mm (values below the solid glass
/// thickness are clamped to it and count as over-packed). Throws Error{Fault::input} for gaps that are not finite or of
/// another sheet, and as check_options() does.
LaminateMap evaluate_laminate(const Sheet&, const std::vector<double>& gap, const LaminateOptions&);
}  // namespace laminate

/// What the resin feels of the same, for many gaps of one sheet: each stack is evaluated once per 2 µm of gap, and
/// conductances are linear between (off by less than 1e-3 of them where a law has a corner, and by less elsewhere).
/// Sheet and options must outlive it.
class LaminateCurves {
 public:
  /// Gaps about as wide as these (mm per node); others are evaluated one by one.
  LaminateCurves(const Sheet&, const std::vector<double>& about, const LaminateOptions&);
  ~LaminateCurves();
  /// Only loft, channel, conductances, `beside`, direction and fluid thickness of the nodes are set. `weight`: so many
  /// times the glass at each node (then as many times the loft); empty: as it is.
  LaminateMap operator()(const std::vector<double>& gap, const std::vector<double>& weight = {}) const;

 private:
  struct Curve;
  const Sheet& sheet_;
  std::vector<Curve> curves_;          ///< per stack
  std::vector<std::size_t> stack_of_;  ///< per node
  std::vector<Vec3> axis_;
  LaminateOptions options_;  ///< for the channels along radii
};

namespace laminate {
/// The same for a single stack.
NodeLaminate evaluate_stack(const std::vector<Ply>&, double gap, const LaminateOptions&);
/// The plies of everywhere, then those of each zone; they live as long as the options.
std::vector<const Ply*> all_plies(const LaminateOptions&);
/// Per node the largest permeability spread that a ply lying there gives; 0: none does.
std::vector<double> spread_at(const Sheet&, const LaminateOptions&);
}  // namespace laminate

}  // namespace gapfront
