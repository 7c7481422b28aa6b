// The filling in time: what the pump does, what the air does, when vents close.
#pragma once
#include <vector>

#include "flow/air.hpp"
#include "flow/arrival.hpp"
#include "flow/clock.hpp"
#include "flow/front.hpp"
#include "flow/network.hpp"
#include "gapfront/flow.hpp"

namespace gapfront::flow {

struct Moment {
  double volume, time;  // mm³ injected, s
};

/// What fillings of one sheet through the same ports have in common. Within a filling nodes are numbered outwards from
/// the inlet: what is wetted together lies together in memory.
struct Ground {
  Ground(const Sheet& s, const FlowOptions& o) : Ground(s, find_ports(s, o)) {}
  Ground(const Sheet&, const Ports&);
  std::vector<int> order;  ///< the sheet's number of each node here
  Sheet sheet;             ///< points, triangles, areas and rim, by the numbers here
  Links links;
  Ports ports;  ///< by the numbers here

  LaminateMap here(const LaminateMap&) const;  ///< the nodes, by the numbers here
  void back(Filling&) const;                   ///< numbered as the sheet is: what run() has put in the numbers here
};

/// The cavity's network with the runners of the inlets.
Network joined_network(const Ground&, const LaminateMap&, const FlowOptions&);

/// The rates that the pump is set to, no faster than it goes.
std::vector<RateStep> limited_schedule(const FlowOptions&);

/// What of a filling is asked for.
enum class Asked {
  everything,
  air,  ///< pockets alone: no arrivals, and no fill time where all is filled
};

/// Steps from the first resin to the last; run() once. The ports of the options are those of the ground. `ladder`: see
/// Multigrid.
class Fill {
 public:
  Fill(const Ground& ground, const LaminateMap& laminate, const FlowOptions& o, const PressureWatch& watch,
       Asked asked = Asked::everything, std::shared_ptr<const Ladder> ladder = {})
      : ground_(ground),
        sheet_(ground.sheet),
        o_(o),
        watch_(watch),
        asked_(asked),
        ports_(ground.ports),
        net_(joined_network(ground, laminate, o)),
        front_(net_, ports_.inlet, std::move(ladder)),
        arrivals_(ground.links, net_, ports_.inlet),
        air_(net_, o.cavity_pressure, ports_.in_mouths(net_.size())),
        clock_(o),
        schedule_(limited_schedule(o)),
        drive_(o.pressure_limit + atmosphere_pa - o.cavity_pressure + (o.supply.gauge_at_pump ? pump_head(o) : 0)),
        hose_(o.supply.gauge_at_pump ? o.supply.resistance() : 0) {
    hang();
    soak(laminate);
  }
  Filling run(const Progress& progress);

 private:
  struct Step {
    double integral = 0, volume = 0, time = 0;  // of the inlet; mm³; s
    int layers = 0;                             // of cells that filled one after the other
    bool balanced = false;                      // every gas is at its pressure
    bool gels = false;                          // before it is over
  };

  void begin();
  double layer() const;
  double choose(const Step& last, double stride) const;
  void run_ahead();
  Step go(double integral, double loose, const Step& last);
  double duration(double integral, double from, double to) const;
  bool covered(std::size_t vent, std::size_t k) const;
  int mark_vented();
  void close_vents();
  void record(const Step& step);
  void show(const Step& step, double inlet);
  bool at_rest(const Step& step) const;
  bool has_pockets() const;
  bool only_pockets() const;
  double at_limit(const DryRegion&) const;
  double to_come() const;
  void measure(Pocket&, const DryRegion&) const;
  void shrink(Pocket&, const DryRegion&, double end);
  void settle();
  double set_times();
  void list_pockets(double end);
  void hang();
  void soak(const LaminateMap&);
  void note_soaked(const Step&);
  void note_supply(const Step&, double inlet);
  bool gel(Step&, double cells, double& again);
  bool stands(const Step&);
  void list_left_dry(double since);
  void note_gel_time();
  void finish_supply();
  void warn_of_gel();
  void warn_of_dry();

  const Ground& ground_;
  const Sheet& sheet_;
  const FlowOptions& o_;
  const PressureWatch& watch_;
  Asked asked_;
  const Ports& ports_;
  Network net_;
  Front front_;
  Arrivals arrivals_;
  Air air_;
  ResinClock clock_;
  std::vector<RateStep> schedule_;
  double drive_, hose_;  // Pa from gauge to vent with nothing flowing; resistance on that way before the inlet, 1/mm³
  std::vector<double> drops_, heads_;     // see Front::weigh_down
  double hanging_ = 0;                    // resin that came while a place hung below the vents' pressure, mm³
  double deepest_ = 0;                    // greatest head of any node, Pa
  std::vector<double> soak_, soaked_at_;  // pressure integral that wets the stack through; when it had come, s
  std::vector<char> vented_, bleeding_;
  std::vector<std::vector<char>> covered_;  // per vent and cell of its mouth
  std::vector<double> pressure_;  // by the sheet's numbers, absolute, mean over the last step; of the air where dry
  struct {
    double log = kNever, inlet = 0, left = kNever;  // mean of ln(resin to come); Pa; resin to come at its end, mm³
    std::vector<double> pressure;
    bool last = false;  // nothing more is shown
  } shown_;             // the step before
  std::vector<Moment> course_;
  Filling out_;
  double time_ = 0, total_ = 0;
  int open_vents_ = 0;
  std::vector<Pocket> dry_at_gel_;  // what is empty at the gel time, where that alone is known of the resin's age
  double empty_at_gel_ = 0;         // share of the cavity; 0: it was full by then
  bool sealed_ = false;             // no vent was open from the start
  bool may_stand_ = false;          // the pressure does not carry the resin as high as the sheet goes
};

}  // namespace gapfront::flow
