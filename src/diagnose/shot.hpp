// A shot's log against fillings.
#pragma once
#include <limits>
#include <vector>

#include "core/linear.hpp"
#include "gapfront/shot.hpp"

namespace gapfront::diagnosis {

/// What a filling says about a log: how it resists over the injected volume. Without shut-in air that hangs neither on
/// rate nor on viscosity, so one filling serves all of both.
struct Course {
  std::vector<double> volume, integral;  ///< mm³; ∫ (p_inlet − p_cavity)/(µ rate) dV up to there
  std::vector<double> slope;             ///< of that
  std::vector<double> vents;             ///< injected when resin comes to each, mm³; +infinity: never
  double full = 0;                       ///< mm³ at its end
  /// Of a cavity that keeps air: mm³ at which the resin comes to rest under the log's last pressure; otherwise
  /// infinity.
  double rest = std::numeric_limits<double>::infinity();
  /// Mean over a stretch of (p_inlet − p_cavity)/(µ rate), 1/mm³; +infinity beyond the end.
  double resistance(double from, double to) const;
};

/// Stretches of about equal volume, with the means of the log.
struct Stretches {
  std::vector<double> edge;               ///< mm³ injected, one more than stretches
  std::vector<double> edge_time;          ///< s
  std::vector<double> pressure, rate;     ///< mean above atmosphere, Pa; mm³/s
  std::vector<double> over_before;        ///< ∫ pressure above atmosphere dt up to each edge, Pa s
  double volume = 0, start = 0, end = 0;  ///< whole log: mm³, s
  bool stopped = false;                   ///< the resin came to rest within the log
  bool stands = false;                    ///< and the pump's pressure stood all the same
  double rest_time = 0;                   ///< s of the log, when all but the last hundredth had come
  double last_pressure = 0;               ///< mean over the log's last tenth, above atmosphere, Pa
  std::size_t size() const { return pressure.size(); }
};
Stretches stretches_of(const ShotLog&, const FlowOptions&);
/// Standard deviation of the readings of the volume about a smooth course, mm³.
double volume_noise(const std::vector<ShotSample>&);
/// Volume injected at a time of the log, and back; +infinity beyond its end.
double volume_at(const ShotLog&, double time);
double time_at(const ShotLog&, double volume);

/// A tool in one state, as fillings with the log's own rate run in it.
struct ShotCase {
  const Sheet& sheet;
  const std::vector<double>& gap;
  const LaminateOptions& laminate;
  FlowOptions flow;      ///< with the log's rate, and a limit that it does not meet
  double last_pressure;  ///< of a log whose pump stood at its end, above atmosphere, Pa; otherwise NaN
};
ShotCase case_of(const Sheet&, const std::vector<double>& gap, const LaminateOptions&, const FlowOptions&,
                 const Stretches&);

/// One way in which a tool can differ, and how much of it the fillings were run with.
struct Family {
  ShotCause cause{};
  std::string subject;
  Vec3 at = Vec3::Zero();
  std::vector<double> amount;   ///< rising or falling; the first is "as the job has it"
  std::vector<Course> courses;  ///< one each; a single one: the amount acts without a filling
  double scale = 0;             ///< of the half-normal prior of the amount
  bool fixed = false;           ///< it is there or not, without an amount
  double prior = 1;             ///< against the other causes
};
/// All of them, run; `none` first. `permeability`: how that acts, for the joint fit; no cause by itself.
std::vector<Family> run_families(const ShotCase&, const FlowOptions& job, const Progress&, int& fillings,
                                 Family& permeability);

/// Amounts of what acts without a filling.
struct Effects {
  double resistance = 0;  ///< ln of the factor
  double leak = 0;        ///< share of what was injected up to the last stretch's end
  double vacuum = 0;      ///< Pa more in the cavity
};

/// What a state of the tool would make of a log: mean pressures above atmosphere, Pa; injected at each vent, mm³;
/// injected when the resin comes to rest though the pump's pressure stands, mm³ (infinity: it says nothing of that).
struct Outlook {
  std::vector<double> pressure, vents;
  double rest = std::numeric_limits<double>::infinity();
};

// One sigma of the volume at which the resin comes to rest, relative (own choice: a meter's scale, gap, and how the
// last of a cavity fills).
inline constexpr double kRestSpread = 0.05;

/// The log as data with a covariance: mean pressure of each stretch, volumes at vents, and where the resin came to
/// rest.
class Evidence {
 public:
  Evidence(const ShotLog&, const Stretches&, const FlowOptions& job, const ShotOptions&);
  /// Residuals, whitened: their squares add up to chi-square.
  Eigen::VectorXd residuals(const Outlook&) const;
  Outlook outlook(const Course&, const Effects&) const;
  /// The same where no more resin comes in from the log's last volume on.
  Outlook cut_off(Outlook) const;
  /// Mean pressure of each stretch, above atmosphere.
  std::vector<double> pressures(const Course&, const Effects&) const;
  std::vector<double> vents(const Course&, const Effects&) const;
  double cavity_pressure() const { return job_.cavity_pressure; }
  int data() const { return static_cast<int>(log_.size()) + ends(); }
  /// Of the data those that are no pressures, the last ones: vents, and the rest.
  int vents_seen() const { return static_cast<int>(seen_.size()); }
  int ends() const { return static_cast<int>(seen_.size()) + log_.stands; }
  double volume_lost(double upto, double leak) const;  ///< of what was injected, mm³
  /// Injected when so much is in the cavity.
  double injected_for(double inside, double leak) const;

 private:
  struct Seen {
    std::size_t vent;
    double volume, time;
  };
  /// Sigmas by which a vent was reached after the resin had come to rest.
  double too_late(double seen, double predicted) const;

  const ShotLog& raw_;
  const Stretches& log_;
  const FlowOptions& job_;
  const ShotOptions& o_;
  Eigen::MatrixXd whiten_;  // inverse of the Cholesky factor
  std::vector<Seen> seen_;
};

struct ShotContext;
/// What is known before: of the resistance, given what was measured of the viscosity.
struct ResistancePrior {
  double mean = 0, sigma = 0;  ///< of ln resistance
  double log_evidence = 0;     ///< of the measured viscosity
};
/// `thicker`: by which the resin differs, ln; `tighter`: the glass.
ResistancePrior resistance_prior(const ShotContext&, double thicker, double tighter);
/// The viscosity was measured, and is another than the job's.
bool measured_apart(const ShotLog&, const FlowOptions& job, const ShotOptions&);

/// Of a family: its evidence, its amount, and what it predicts at its best.
struct Judged {
  double log_evidence = 0;
  ShotEstimate amount;
  double chi2 = 0, resistance = 0;
  double worst = 0;  ///< of the vents and the rest, sigma
  Outlook at;
};
struct ShotContext {
  const ShotLog& log;
  const Stretches& stretches;
  const FlowOptions& flow;
  const LaminateOptions& laminate;
  const ShotOptions& options;
  const Evidence& evidence;
  std::vector<double> earlier;  ///< ln of the resistance of earlier shots against the job's
};
Judged judge_family(const Family&, const ShotContext&);
/// Permeability, viscosity and leak together.
void fit_together(const Family& permeability, const ShotContext&, ShotFound&);

// With less than this chance no cause, and no normal shot, makes such a log.
inline constexpr double kUnexplained = 1e-3;

/// Jumps of the pressure, far beyond the noise of the readings, that the rate does not go along with; and that noise.
void find_steps(const ShotLog&, const Stretches&, const FlowOptions& job, ShotFound&);

/// What the cause is, and what to check because of it.
void tell_cause(ShotCandidate&);
/// The same of a resin that was measured.
void tell_measured(ShotCandidate&);
/// The headline, and the checks in the order in which they tell most. `astray`: of ShotFound::vents the one that is
/// farthest from what the likely cause predicts.
void tell_shot(const ShotLog&, const FlowOptions& job, const ShotOptions&, int astray, ShotFound&);

}  // namespace gapfront::diagnosis
