# Lengths mm, areas mm2, volumes mm3, times s, pressures Pa, masses g. Arrays that come out are read-only views, N long
# for a sheet of N nodes, but where a copy is said.
from enum import IntEnum
from os import PathLike
from typing import Any, Callable, Optional, Sequence, Tuple, TypeVar, Union

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Marks = NDArray[np.bool_]
Ints = NDArray[np.int32]
T = TypeVar("T")
Path = Union[str, "PathLike[str]"]
# Told the stage and the share done; False ends the work with Cancelled.
Progress = Optional[Callable[[str, float], Optional[bool]]]

__version__: str

class Error(RuntimeError): ...
class InputError(Error): ...
class MeasurementError(Error): ...
class Cancelled(Error): ...

# Made by keywords: GapOptions(nominal=3).
class _Settings:
    def __init__(self, **values: Any) -> None: ...

# The same for what stands in a list: it cannot be changed in place, replace() makes another one.
class _Item(_Settings):
    def replace(self: T, **values: Any) -> T: ...

# ---- scans
class Scan:
    def __init__(self, points: ArrayLike, normals: Optional[ArrayLike] = None, unit: float = 1.0, name: str = "array") -> None: ...
    def __len__(self) -> int: ...
    points: Floats; normals: Optional[NDArray[np.float32]]
    path: str; format: str; sha256: str; unit: float; unit_declared: bool; declared_points: int
    nonfinite_dropped: int; tip_radius: float

class CleanOptions(_Settings):
    outliers: bool; neighbours: int; outlier_sigma: float; clutter_distance: float; clutter_fraction: float

class CleanReport:
    read: int; nonfinite: int; duplicates: int; clutter: int; outliers: int; kept: int; spacing: float; noise: float

# Errors that neighbouring points share.
class SharedNoise(_Item):
    sigma: float; length: float

class Mesh:
    def __init__(self, points: ArrayLike, triangles: ArrayLike) -> None: ...
    points: Floats; triangles: Ints

def read_scan(file: Path, *, unit: Optional[float] = None, columns: str = "", separator: Optional[str] = None, decimal_comma: Optional[bool] = None, tip_radius: float = 0.0, progress: Progress = None) -> Scan: ...
def read_mesh(file: Path, unit: float = 1.0) -> Mesh: ...
def clean(scan: Scan, options: CleanOptions = ..., progress: Progress = None) -> Tuple[Scan, CleanReport]: ...
def check_pair(lower: Scan, upper: Scan) -> None: ...

# ---- registration
class AlignMethod:
    given: AlignMethod; targets: AlignMethod; flange: AlignMethod; nominal: AlignMethod; datum: AlignMethod

class Target(_Item):
    name: str; ball: Optional[float]; dowel: Optional[float]; lower: Optional[ArrayLike]; upper: Optional[ArrayLike]
    tool: Optional[ArrayLike]; u: Optional[float]; mask: Optional[float]

class Region(_Item):
    polygon: ArrayLike; box: ArrayLike; path: ArrayLike; radius: float
    def contains(self, place: ArrayLike) -> bool: ...

class AlignOptions(_Settings):
    methods: Sequence[AlignMethod]; targets: Sequence[Target]; find_ball: Optional[float]; given_u: Optional[float]
    flange: Sequence[Region]; stand_off: float; flange_within: float; in_plane_u: Optional[float]
    nominal_lower: Optional[Mesh]; nominal_upper: Optional[Mesh]; datum: Sequence[Region]; fit_on_cavity: bool
    residual_limit: float; seat_play: float; tool_play: float

class TargetResidual:
    name: str; residual: Floats; place: Floats; leave_one_out: float; lower_points: int; upper_points: int

class Alignment:
    def __init__(self, covariance: Optional[ArrayLike] = None, pivot: ArrayLike = ...) -> None: ...
    lower_to_tool: Floats; upper_to_tool: Floats  # (4, 4)
    covariance: Floats; pivot: Floats  # (6, 6), (3,)
    shared_noise: SharedNoise
    fit_rms: float; residuals: Sequence[TargetResidual]; left_out: Sequence[str]; chi2: float; dof: float; method: str
    warnings: str
    def u_at(self, place: ArrayLike, direction: ArrayLike) -> float: ...

def register_halves(lower: Scan, upper: Scan, options: AlignOptions, *, lower_noise: float, upper_noise: float, progress: Progress = None) -> Alignment: ...

# ---- sheet and gap
class Surface:
    def __init__(self, points: ArrayLike, *, spacing: float, noise: float, pose: Optional[ArrayLike] = None, shared: SharedNoise = ...) -> None: ...
    def __len__(self) -> int: ...
    points: Floats; spacing: float; noise: float; shared: SharedNoise

class Mask(_Item):
    name: str; centre: ArrayLike; radius: float

class SheetOptions(_Settings):
    edge: float; min_edge: float; seal: ArrayLike; islands: Sequence[Sequence[ArrayLike]]; masks: Sequence[Mask]

class Sheet:
    def __len__(self) -> int: ...
    points: Floats  # (N, 3)
    triangles: Ints  # (M, 3)
    normals: Floats  # (N, 3)
    area: Floats; rim: Marks; covered: Marks; edge_p05: float; edge_p50: float; edge_p95: float; min_angle_deg: float
    uncovered_area: float; masked_area: float

class GapOptions(_Settings):
    nominal: float; max_gap: float; fit_radius: float; u_instrument: float; u_temperature: float; coverage: float

class GapMap:
    def __len__(self) -> int: ...
    gap: Floats  # a copy, NaN where not measured
    U: Floats  # a copy, NaN where not measured
    measured: Marks
    mid: Floats  # (N, 3)
    direction: Floats  # (N, 3)
    u_lower: Floats; u_upper: Floats; u_instrument: Floats; u_registration: Floats; u_temperature: Floats
    fit_area: Floats; coverage: float; unmeasured_area: float

def surface_of(mesh: Mesh, spacing: float) -> Surface: ...
def build_sheet(lower: Surface, upper: Surface, options: SheetOptions = ..., progress: Progress = None) -> Sheet: ...
def make_sheet(mesh: Mesh) -> Sheet: ...
def masks_of(alignment: Alignment) -> Sequence[Mask]: ...
def measure_gap(sheet: Sheet, lower: Surface, upper: Surface, alignment: Alignment, options: GapOptions = ..., progress: Progress = None) -> GapMap: ...

# ---- verdict
class Conformity(IntEnum):
    conforming = 0; undecided = 1
    nonconforming = 2; not_measured = 3
    not_judged = 4

class ToleranceZone(_Item):
    name: str; where: Region; nominal: float; minus: float; plus: float

class ToleranceOptions(_Settings):
    nominal: float; minus: float; plus: float; zones: Sequence[ToleranceZone]; nominal_field: ArrayLike
    min_region_area: float; allowed_nonconforming_fraction: float; min_area: float; unmeasured_fraction: float

class DeviationRegion:
    name: str; high: bool; centre: Floats; area: float; volume: float; mean: float; peak: float; mean_U: float
    decision: Conformity; nodes: Ints; outline: Floats

class Verdict:
    overall: Conformity; covered: bool; headline: str; would_change: str
    decision: Ints  # values of Conformity
    nominal: Floats; deviation: Floats; remainder: Floats; low: Floats; high: Floats
    fraction: dict[Conformity, float]; regions: Sequence[DeviationRegion]; mean: float; mean_U: float; sigma: float
    p05: float; p50: float; p95: float; minimum: float; maximum: float; offset: float; offset_U: float; tilt: Floats
    tilt_U: Floats

def decide(y: float, low: float, high: float, U: float) -> Conformity: ...
def judge(sheet: Sheet, gap: GapMap, options: ToleranceOptions = ...) -> Verdict: ...

# ---- glass
class PermeabilityLaw(_Item):
    class Kind:
        power: PermeabilityLaw.Kind; exponential: PermeabilityLaw.Kind; kozeny_carman: PermeabilityLaw.Kind
        table: PermeabilityLaw.Kind
    kind: Kind; a: float; b: float; table: Sequence[Tuple[float, float]]; ratio: float; spread: float
    def at(self, vf: float) -> float: ...

class CompactionLaw(_Item):
    class Kind:
        power: CompactionLaw.Kind; table: CompactionLaw.Kind
    kind: Kind; a: float; b: float; table: Sequence[Tuple[float, float]]
    def pressure(self, vf: float) -> float: ...

class Reinforcement(_Item):
    name: str; areal_weight: float; loft: float; density: float; permeability: PermeabilityLaw
    compaction: CompactionLaw; source: str

class Ply(_Item):
    reinforcement: Reinforcement; count: float; direction_deg: float

class LaminateZone(_Item):
    name: str; where: Region; adds: bool; plies: Sequence[Ply]; drape: float; axis: ArrayLike

class LaminateOptions(_Settings):
    plies: Sequence[Ply]; zones: Sequence[LaminateZone]; resin_density: float; clamping_pressure: float
    weight_fraction_low: float; weight_fraction_high: float; axis: ArrayLike

class LaminateMap:
    def __len__(self) -> int: ...
    vf: Floats; weight_fraction: Floats; porosity: Floats; loft: Floats; channel: Floats; compaction: Floats
    conductance: Floats; conductance2: Floats; fluid_thickness: Floats; under_filled: Marks; over_packed: Marks
    under_filled_area: float; over_packed_area: float; compaction_load: float

def reinforcements() -> Sequence[Reinforcement]: ...
def find_reinforcement(name: str) -> Reinforcement: ...
def evaluate_laminate(sheet: Sheet, gap: ArrayLike, options: LaminateOptions) -> LaminateMap: ...

# ---- filling
class Inlet(_Item):
    name: str; perimeter: bool; path: ArrayLike; radius: float; runner_width: float; runner_depth: float

class Vent(_Item):
    name: str; path: ArrayLike; radius: float; bleed: float; blocked_from: float

class RateStep(_Item):
    from_volume: float; rate: float

class ClosingOptions(_Settings):
    pressure: float; force: float; perimeter_vacuum: float; perimeter_width: float; safety: float

class FlowOptions(_Settings):
    viscosity: float; inlets: Sequence[Inlet]; vents: Sequence[Vent]; schedule: Sequence[RateStep]
    pressure_limit: float; cavity_pressure: float; closing: ClosingOptions; gel_time: float; min_rate: float
    rate_setting: float

class Pocket:
    centre: Floats; closed_at: float; initial_volume: float; final_volume: float; final_pressure: float; area: float
    nodes: Ints

class Filling:
    arrival: Floats; peak_pressure: Floats; vent_closed_at: Floats; time: Floats; inlet_pressure: Floats; rate: Floats
    filled: Floats; fill_time: float; last_node: int; last_to_vent: float; pockets: Sequence[Pocket]; injected: float
    resin: float; dry_area: float; warnings: str

class LeadRegion:
    centre: Floats; area: float; peak_s: float; mean_s: float; fed_by: str; nodes: Ints

class Lead:
    seconds: Floats; mm: Floats; percent: Floats; max_s: float; rms_s: float; max_node: int; fill_time: float
    regions: Sequence[LeadRegion]

def fill(sheet: Sheet, laminate: LaminateMap, options: FlowOptions, progress: Progress = None) -> Filling: ...
def compare_fillings(sheet: Sheet, nominal: Filling, measured: Filling) -> Lead: ...

# ---- the whole, from a job file
class EnsembleOptions(_Settings):
    runs: int; seed: int; spread: float; min_dry: float

class Job:
    file: Any; text: str; name: str; tool: str; date: str; note: str; photo: Any; cycles: float; language: str; output: Any
    lower_file: Any; upper_file: Any; clean: CleanOptions; align: AlignOptions; sheet: SheetOptions; gap: GapOptions
    tolerance: ToleranceOptions; laminate: LaminateOptions; flow: FlowOptions; ensemble: EnsembleOptions

class Correction:
    kind: str; name: str; face: str; region: str; centre: Floats; area: float; mean: float; peak: float; volume: float
    mass: float; effort: float; benefit: float; instruction: str; outline: Floats; gap_change: Floats

class Measured:
    job: Job; sheet: Sheet; gap: GapMap; verdict: Verdict; alignment: Alignment; lower_clean: CleanReport
    upper_clean: CleanReport; lower_sha256: str; upper_sha256: str; job_sha256: str; version: str
    doubt: Optional[str]; warnings: Sequence[str]

class Predicted(Measured):
    flow_gap: Floats; laminate: LaminateMap; filling: Filling; nominal_filling: Filling; lead: Lead

class Inspection(Predicted):
    corrections: Sequence[Correction]; filling_after: Filling; outcome: str

class Characteristic:
    id: str; what: str; at: Floats; nominal: float; low: float; high: float; measured: float; U: float
    decision: Conformity; area: float

def read_job(file: Path) -> Job: ...
def draft_job(lower: Path, upper: Path, relative_to: Path) -> str: ...
def validate(job: Job) -> None: ...
def measure(job: Job, progress: Progress = None) -> Measured: ...
def predict(measured: Measured, progress: Progress = None) -> Predicted: ...
def correct(predicted: Predicted, progress: Progress = None) -> Inspection: ...
def inspect(job: Job, progress: Progress = None) -> Inspection: ...
def characteristics(inspection: Inspection) -> Sequence[Characteristic]: ...
def result_json(inspection: Inspection, with_times: bool = True) -> str: ...
def read_result(json: str) -> Inspection: ...
def report_html(inspection: Inspection) -> str: ...
def write_report(inspection: Inspection, folder: Path) -> None: ...
