// Made by `layproof types` from what describes requests (src/door) and answers (src/acts, src/door). Not to be edited: make it anew.

export interface SetAside {
    station: string;
    target: string;
    /** the n-th pointing, from 1; 0 or absent: all */
    which?: number | null;
    reason: string;
}

export interface StationRequest {
    as_of?: string | null;
    /** only this set-up */
    station?: string | null;
    /** only these */
    points?: string[] | null;
    /** to try; decides nothing */
    set_aside?: SetAside[] | null;
    explain?: boolean | null;
}

export interface LayRequest {
    as_of?: string | null;
    /** only this set-up */
    station?: string | null;
    /** only these */
    points?: string[] | null;
    /** for setting out */
    rod_height_m?: number | null;
    ground?: "slab" | "soil" | "deck" | "steel" | null;
    /** set out although the station fails */
    anyway?: boolean | null;
    /** to try; decides nothing */
    set_aside?: SetAside[] | null;
}

export interface WatchRequest {
    as_of?: string | null;
    /** only this set-up */
    station?: string | null;
    ground?: "slab" | "soil" | "deck" | "steel" | null;
    check_every_min?: number | null;
    /** to try; decides nothing */
    set_aside?: SetAside[] | null;
}

export interface VetRequest {
    as_of?: string | null;
    /** of a mark; else 6.35 */
    tolerance_plan_mm?: number | null;
    /** else 12.7 */
    tolerance_height_mm?: number | null;
}

export interface ProveRequest {
    as_of?: string | null;
    ground?: "slab" | "soil" | "deck" | "steel" | null;
    /** to try; decides nothing */
    set_aside?: SetAside[] | null;
}

export interface RecordRequest {
    as_of?: string | null;
}

export interface PlanDrawn {
    kind: "outline" | "no-go";
    /** corners, in the unit of the job */
    path: [number, number][];
    /** a height; else the floor's foundation */
    bottom?: number | null;
    /** a height; else the sky */
    top?: number | null;
}

export interface PlanRequest {
    as_of?: string | null;
    /** of the points that is wanted; else 0.95 */
    share?: number | null;
    /** between places; else 0.5 */
    step_m?: number | null;
    /** else 1.6 */
    instrument_height_m?: number | null;
    /** else 1.5 */
    rod_m?: number | null;
    two_faces?: boolean | null;
    ground?: "slab" | "soil" | "deck" | "steel" | null;
    /** digests of files of obstacles that were sent */
    files?: string[] | null;
    drawn?: PlanDrawn[] | null;
    /** what would help; else true */
    advice?: boolean | null;
}

export interface PlaceRequest {
    plan: PlanRequest;
    east: number;
    north: number;
}

export interface ToolsTable {
    check: "faces" | "sets" | "line" | "base" | "turns";
    /** of a file that was sent */
    digest?: string | null;
    /** column to text, as typed */
    rows?: Record<string, string>[] | null;
}

export interface ToolsRequest {
    tool: "instrument" | "rod";
    tables: ToolsTable[];
    /** of lengths that state none; else the job's */
    unit?: "m" | "ft" | "us-ft" | null;
    /** working radius; else 30 */
    radius_m?: number | null;
    /** else 6.35 */
    tolerance_plan_mm?: number | null;
    /** of a known base; else 0.5 */
    base_sd_mm?: number | null;
}

export interface ReadFields {
    direction?: string | null;
    zenith?: string | null;
    slope_distance?: string | null;
    horizontal_distance?: string | null;
    target_height?: string | null;
    instrument_height?: string | null;
    east?: string | null;
    north?: string | null;
    height?: string | null;
    time?: string | null;
    temperature?: string | null;
    pressure?: string | null;
}

export interface ReadRequest {
    fields: ReadFields;
    unit?: "m" | "ft" | "us-ft" | null;
}

export interface BookSight {
    station: string;
    target: string;
    direction?: string | null;
    zenith?: string | null;
    slope_distance?: string | null;
    horizontal_distance?: string | null;
    target_height?: string | null;
    face?: string | null;
    purpose?: string | null;
    time?: string | null;
    note?: string | null;
}

export interface BookSetup {
    station: string;
    kind: string;
    mark?: string | null;
    instrument_height?: string | null;
    time?: string | null;
    temperature?: string | null;
    pressure?: string | null;
}

export interface BookMark {
    mark: string;
    east: string;
    north: string;
    height?: string | null;
    role?: string | null;
}

export interface BookPoint {
    point: string;
    east: string;
    north: string;
    height?: string | null;
    element?: string | null;
}

export interface BookRequest {
    /** of lengths that are typed without one */
    unit: "m" | "ft" | "us-ft";
    sight?: BookSight | null;
    setup?: BookSetup | null;
    mark?: BookMark | null;
    point?: BookPoint | null;
}

export interface PairRequest {
    code: string;
}

export interface TakeFile {
    /** of a file sent before */
    digest: string;
    role: "marks" | "sights" | "setups" | "points" | "instrument" | "grid" | "causes" | "tapes" | "levels" | "drawing";
    /** of lengths whose column states none */
    unit?: "m" | "ft" | "us-ft" | null;
    /** which column of the file each field is */
    map?: Record<string, string> | null;
    revision?: string | null;
    note?: string | null;
}

export interface TakeRequest {
    files: TakeFile[];
}

export interface DecideRequest {
    kind: "set-aside" | "put-back" | "accept" | "mark-moved";
    /** "S1:H3", "S1:H3#2", a fact's id, or a mark */
    subject: string;
    reason: string;
    initials: string;
}

export interface PreviewRequest {
    digest: string;
    role?: "marks" | "sights" | "setups" | "points" | "instrument" | "grid" | "causes" | "tapes" | "levels" | "drawing" | null;
    unit?: "m" | "ft" | "us-ft" | null;
    map?: Record<string, string> | null;
}

export interface StopRequest {
    work: string;
}

export interface SheetRequest {
    as_of?: string | null;
}

export interface SightsRequest {
    as_of?: string | null;
    station: string;
}

export type InboxRequest = Record<string, never>;

export interface Refusal {
    /** E109 */
    code: string;
    /** unit-missing */
    kind: string;
    file: string;
    /** from 1; 0: not applicable */
    line: number;
    column: number;
    found: string;
    expected: string;
    /** of the request that was refused */
    field: string | null;
    /** the whole sentence */
    says: string;
}

export interface RefusalAnswer {
    refusal: Refusal;
}

export interface SheetJob {
    id: string;
    title: string;
    file: string;
    unit: "m" | "ft" | "us-ft" | null;
    facts: number;
    head: string;
}

export interface SheetMark {
    mark: string;
    east: number | null;
    north: number | null;
    height: number | null;
    /** the larger of east and north */
    sd_mm: number | null;
    /** name of the document */
    from: string | null;
    revision: string;
    is_moved: boolean;
}

export interface SheetPoint {
    point: string;
    east: number;
    north: number;
    height: number | null;
    element: string;
    tolerance_plan_mm: number | null;
    tolerance_height_mm: number | null;
}

export interface SheetLine {
    line: string;
    kind: "straight" | "offset" | "radial" | "curved";
    /** east, north */
    path: [number, number][];
}

export interface Pose {
    east: number;
    north: number;
    height: number | null;
    orientation_deg: number;
}

export interface SheetStation {
    station: string;
    kind: "free" | "occupied" | "baseline";
    mark: string | null;
    instrument_height_m: number | null;
    /** time of its first sight or set-up */
    first: string | null;
    last: string | null;
    sights: number;
    pose: Pose | null;
    word: "proven" | "in doubt" | "fails" | null;
}

export interface SheetMoment {
    /** to ask for the job as of then */
    time: string;
    what: "take" | "book" | "decide" | "merge";
    says: string;
    /** added then */
    facts: number;
}

export interface SheetDocument {
    name: string;
    role: string;
    digest: string;
    size: number;
    taken: string;
    revision: string;
}

export interface SheetDecision {
    time: string;
    kind: "set-aside" | "put-back" | "accept" | "mark-moved";
    subject: string;
    reason: string;
    initials: string;
}

export interface SheetConflict {
    says: string;
    settled: boolean;
}

export interface SheetChecked {
    finding: string;
    /** value, sd and time */
    says: string;
}

export interface SheetAnswer {
    act: "sheet";
    version: string;
    job: SheetJob;
    as_of: string | null;
    marks: SheetMark[];
    points: SheetPoint[];
    grid: SheetLine[];
    stations: SheetStation[];
    /** of the whole job, whatever as_of */
    moments: SheetMoment[];
    documents: SheetDocument[];
    decisions: SheetDecision[];
    conflicts: SheetConflict[];
    /** kept from field checks */
    checked: SheetChecked[];
}

export interface AsideNote {
    reason: string;
    initials: string;
    time: string;
}

export interface BookedSight {
    fact: string;
    target: string;
    /** the n-th pointing to that target */
    which: number;
    purpose: "control" | "check" | "lay" | "other";
    face: "one" | "two" | null;
    /** as written */
    time: string | null;
    direction_deg: number | null;
    zenith_deg: number | null;
    slope_distance_m: number | null;
    horizontal_distance_m: number | null;
    target_height_m: number | null;
    note: string;
    set_aside: AsideNote | null;
}

export interface SightsAnswer {
    act: "sights";
    station: string;
    sights: BookedSight[];
}

export interface InboxFile {
    name: string;
    /** of the file */
    time: string;
    taken: boolean;
    role: string | null;
    says: string;
}

export interface InboxAnswer {
    act: "inbox";
    folder: string | null;
    files: InboxFile[];
}

export interface Verdict {
    word: "proven" | "in doubt" | "fails";
    /** of the weakest point */
    probability: number;
    because: string;
    next: string;
}

export interface StationPose {
    east: number;
    north: number;
    height: number | null;
    orientation_deg: number;
    /** four rows: east, north, height in metres, orientation in radians */
    covariance: (number | null)[][];
}

export interface GlobalTest {
    statistic: number | null;
    dof: number;
    lower: number | null;
    upper: number | null;
    variance_factor: number | null;
    passes: boolean;
}

export interface SightResidual {
    direction_arcsec: number | null;
    zenith_arcsec: number | null;
    distance_mm: number | null;
}

export interface SightFigures {
    direction: number | null;
    zenith: number | null;
    distance: number | null;
}

export interface StationSight {
    target: string;
    used: boolean;
    residual: SightResidual;
    standardised: SightFigures;
    redundancy: SightFigures;
    detectable_mm: number | null;
    undetected_effect_mm: number | null;
    /** why it is not used */
    why?: string;
}

export interface StationMark {
    mark: string;
    used: boolean;
    off_east_mm: number | null;
    off_north_mm: number | null;
    off_height_mm: number | null;
}

export interface JobCause {
    cause: string;
    subjects: string[];
    probability: number | null;
    from: string | null;
    to: string | null;
    says: string;
    next: string;
    gross: boolean;
}

export interface CauseMember {
    cause: string;
    subjects: string[];
    probability: number;
    log_evidence: number | null;
    estimate: Record<string, number | null>;
}

export interface Cause {
    /** "A|B": the data cannot split them */
    cause: string;
    subjects: string[];
    probability: number;
    /** names with their unit */
    estimate: Record<string, number | null>;
    next: string;
    says: string;
    is_pair: boolean;
    members: CauseMember[];
}

export interface NextSight {
    target: string;
    why: string;
    gain: number | null;
    way: string;
    /** a tape's other end */
    to?: string;
}

export interface Explained {
    cause: string;
    subjects: string[];
    pose: Pose;
    word: "proven" | "in doubt" | "fails";
    probability: number;
    points_proven: number;
    says: string;
}

export interface Trap {
    trap: string;
    certain: boolean;
    says: string;
}

export interface StationPoint {
    point: string;
    sd_plan_mm: number | null;
    sd_height_mm: number | null;
    probability: number;
    word: "proven" | "in doubt" | "fails";
    tolerance_plan_mm: number;
    tolerance_height_mm: number | null;
}

export interface GeometryRemark {
    remark: string;
    marks: string[];
    says: string;
}

export interface Geometry {
    remarks: GeometryRemark[];
    weakest_azimuth_deg: number | null;
    sd_weakest_mm: number | null;
    sd_strongest_mm: number | null;
}

export interface Aid {
    aid: string;
    mark: string | null;
    proven: number;
    lowest_probability: number | null;
    says: string;
}

export interface Faces {
    pairs: number;
    collimation_arcsec: number | null;
    vertical_index_arcsec: number | null;
}

export interface Station {
    station: string;
    kind: "free" | "occupied" | "baseline";
    verdict: Verdict;
    pose: StationPose;
    pose_is: string;
    global_test: GlobalTest;
    sights: StationSight[];
    marks: StationMark[];
    /** by all that is known of the job */
    job_causes: JobCause[];
    /** most probable first */
    causes: Cause[];
    next_sight: NextSight | null;
    explained: Explained | null;
    traps: Trap[];
    points: StationPoint[];
    points_proven: number;
    circle_radius: number | null;
    rod_height_mm: number;
    geometry: Geometry;
    other_places: Pose[];
    aids: Aid[];
    faces: Faces;
    if_kept_in: string | null;
    notices: string[];
}

export interface StationAnswer {
    act: "station";
    version: string;
    /** of coordinates */
    unit: "m" | "ft" | "us-ft";
    confidence: number;
    stations: Station[];
    notices: string[];
}

export interface Deviation {
    east_mm: number | null;
    north_mm: number | null;
    height_mm: number | null;
    along_mm: number | null;
    across_mm: number | null;
}

export interface OffMm {
    east_mm: number | null;
    north_mm: number | null;
    height_mm: number | null;
}

export interface LaidLine {
    line: string;
    across: number | null;
    off_mm: number | null;
}

export interface LimitSource {
    from: string;
    id: string | null;
    says: string;
    from_memory: boolean;
}

export interface Limits {
    minus_mm: number | null;
    plus_mm: number | null;
}

export interface LaidTolerance {
    plan_mm: number | null;
    plan_source: LimitSource;
    height: Limits;
    height_source: LimitSource;
}

export interface Laid {
    point: string;
    stations: string[];
    word: "proven" | "in doubt" | "fails";
    probability: number | null;
    probability_plan: number | null;
    probability_height: number | null;
    because: string;
    next: string;
    deviation: Deviation;
    expected: OffMm;
    sd_plan_mm: number | null;
    sd_height_mm: number | null;
    station_share: number | null;
    lines: LaidLine[];
    grid: string | null;
    move: string;
    tolerance: LaidTolerance;
    accepted_plan_mm: number | null;
    sights: number;
    sights_disagree: boolean;
}

export interface LayRule {
    rule: string;
    what: string;
    from: string;
    to: string;
    design: number | null;
    measured: number | null;
    off_mm: number | null;
    sd_mm: number | null;
    limits: Limits;
    probability: number | null;
    word: "proven" | "in doubt" | "fails";
    because: string;
    tolerance_id: string;
    source: string;
    from_memory: boolean;
}

export interface Earthwork {
    word: string;
    amount: number;
}

export interface LineOffset {
    line: string;
    along: number | null;
    across: number | null;
    side: string;
}

export interface SettingOut {
    point: string;
    at_instrument?: boolean;
    /** null alone: it cannot be set out from here */
    direction_deg: number | null;
    zenith_deg?: number | null;
    azimuth_deg?: number | null;
    horizontal?: number | null;
    slope?: number | null;
    height_difference?: number | null;
    earthwork?: Earthwork | null;
    grid?: string | null;
    offsets?: LineOffset[];
}

export interface LayStation {
    station: string;
    verdict: Verdict;
    pose: Pose;
    rod_height_mm: number;
    sights_to_laid_points: number;
    probability_holds: number | null;
    /** nothing is set out: the station fails */
    withheld: boolean;
    setting_out: SettingOut[];
}

export interface TapeDistance {
    from: string;
    to: string;
    distance: number | null;
    diagonal: boolean;
}

export interface LayAnswer {
    act: "lay";
    version: string;
    /** of coordinates and distances */
    unit: "m" | "ft" | "us-ft";
    confidence: number;
    /** null while nothing is laid */
    verdict: Verdict | null;
    rule: string;
    points_laid: number;
    points_proven: number;
    points_in_doubt: number;
    points_fail: number;
    laid: Laid[];
    causes: JobCause[];
    rules: LayRule[];
    stations: LayStation[];
    tape: TapeDistance[];
    notices: string[];
}

export interface WatchPose {
    east_mm: number | null;
    north_mm: number | null;
    height_mm: number | null;
    turn_arcsec: number | null;
}

export interface WatchChange {
    cause: string;
    subject: string | null;
    from: string | null;
    to: string | null;
    amount: WatchPose | null;
    sd: WatchPose | null;
}

export interface HypothesisMember {
    probability: number;
    log_evidence: number | null;
    changes: WatchChange[];
}

export interface Hypothesis {
    probability: number;
    says: string;
    members: HypothesisMember[];
}

export interface WatchMove {
    from: string | null;
    to: string | null;
    probability: number;
    shift: WatchPose;
    sd: WatchPose;
    points_between: string[];
}

export interface WatchPoint {
    point: string;
    laid: string;
    word: "proven" | "in doubt" | "fails";
    probability: number | null;
    as_sighted: OffMm;
    corrected: OffMm;
    sd: OffMm;
    probability_moved: number | null;
    displacement: OffMm;
    probability_unmoved: number | null;
    in_doubt_by_move: boolean;
    resights: number;
    tolerance_plan_mm: number | null;
    tolerance_height_mm: number | null;
}

export interface Resight {
    target: string;
    kind: "mark" | "point";
    gain: number | null;
    left: number | null;
}

export interface NextCheck {
    due: string;
    by_drift: boolean;
    point: string | null;
    probability: number | null;
}

export interface WatchEvent {
    event: string;
    time: string;
    name: string | null;
    pose: WatchPose;
    sd: WatchPose;
    probability_moved: number | null;
    statistic: number | null;
    dof: number | null;
    good: boolean | null;
}

export interface WatchStation {
    station: string;
    /** of the day */
    verdict: Verdict;
    /** of the set-up */
    station_verdict: Verdict;
    set_up_finished: string;
    probability_holds: number;
    probability_moved: number | null;
    probability_moved_seen: number | null;
    hypotheses: Hypothesis[];
    hypotheses_others: number | null;
    moves: WatchMove[];
    points_proven: number;
    points_in_doubt: number;
    points_fail: number;
    points: WatchPoint[];
    /** best first */
    resights: Resight[];
    next_check: NextCheck;
    events: WatchEvent[];
    notices: string[];
}

export interface WatchAnswer {
    act: "watch";
    version: string;
    unit: "m" | "ft" | "us-ft";
    confidence: number;
    ground: "slab" | "soil" | "deck" | "steel";
    check_every_min: number;
    causes: JobCause[];
    stations: WatchStation[];
    notices: string[];
}

export interface VetList {
    list: string;
    kind: "sheet" | "drawing";
    revision: string | null;
    marks: number;
    unit: "m" | "ft" | "us-ft" | null;
}

export interface VetMark {
    mark: string;
    /** as the first list that has it says */
    east: number | null;
    north: number | null;
    height: number | null;
    word: "proven" | "in doubt" | "fails";
    probability: number;
    probability_plan: number | null;
    probability_height: number | null;
    because: string;
    next: string;
    /** the ground less the list */
    off: OffMm;
    sd_plan_mm: number | null;
    sd_height_mm: number | null;
    /** that have it */
    lists: number;
    /** measurements that hold it in plan */
    measured: number;
    measured_height: number;
    /** smallest shift that is found; null: not held */
    detectable_mm: number | null;
    detectable_height_mm: number | null;
}

export interface VetEstimate {
    east_mm?: number | null;
    north_mm?: number | null;
    height_mm?: number | null;
    length_mm?: number | null;
    ratio?: number | null;
    turn_deg?: number | null;
    sd_mm?: number | null;
}

export interface VetMember {
    cause: string;
    subjects: string[];
    list: string | null;
    probability: number;
    log_evidence: number | null;
    seen: boolean;
    estimate: VetEstimate;
}

export interface VetExplanation {
    /** "A|B": the data cannot split them */
    cause: string;
    subjects: string[];
    /** null: none, or all */
    list: string | null;
    probability: number;
    estimate: VetEstimate;
    says: string;
    next: string;
    /** the members hold together */
    is_pair: boolean;
    members: VetMember[];
}

export interface VetTrap {
    trap: string;
    prior: number;
    probability: number;
    sighting: "seen" | "weak" | "cannot be seen" | "does not apply";
    /** mark at which it shows least */
    weakest: string | null;
    hides_on_all_lists: boolean;
    noncentrality: number | null;
    detectable_mm: number | null;
    detectable_ppm: number | null;
    says: string;
}

export interface VetMeasured {
    kind: "tape" | "level" | "direction" | "zenith" | "distance";
    from: string;
    to: string;
    misfit_mm: number | null;
    misfit_arcsec: number | null;
    standardised: number | null;
    redundancy: number | null;
}

export interface VetDifference {
    list: string;
    mark: string;
    east_mm: number | null;
    north_mm: number | null;
    height_mm: number | null;
}

export interface VetAssignment {
    marks: number;
    mirrored: boolean;
    scale: number | null;
    turn_deg: number | null;
    rms_mm: number | null;
}

export interface VetMatch {
    list: string;
    state: "matched" | "ambiguous" | "none";
    best: VetAssignment | null;
    rivals: VetAssignment[];
    says: string;
}

export interface VetFitMisfit {
    mark: string;
    /** first list less the list laid on it */
    east_mm: number | null;
    north_mm: number | null;
    /** with the scale free */
    free_east_mm: number | null;
    free_north_mm: number | null;
}

export interface VetScale {
    kind: "none" | "foot" | "unit" | "factor" | "unknown";
    /** coordinate system it takes */
    frame: string | null;
    says: string;
    ratio: number | null;
    /** the scale seen less this one */
    off_ppm: number | null;
    probability: number;
}

export interface VetFit {
    list: string;
    /** its east was turned round first */
    mirrored: boolean;
    /** stands as the first list does */
    alike: boolean;
    /** azimuth of its north in the first */
    turn_deg: number | null;
    turn_sd_arcsec: number | null;
    /** of the middle of its marks */
    shift_east: number | null;
    shift_north: number | null;
    /** of its zero in the first */
    origin_east: number | null;
    origin_north: number | null;
    height_shift_mm: number | null;
    /** of one coordinate, scale 1 */
    scatter_mm: number | null;
    free_scatter_mm: number | null;
    /** as its marks would like it */
    scale: number | null;
    scale_sd_ppm: number | null;
    misfits: VetFitMisfit[];
    /** most probable first */
    scales: VetScale[];
    warnings: string[];
    says: string;
}

export interface VetGridLine {
    line: string;
    east_1: number | null;
    north_1: number | null;
    east_2: number | null;
    north_2: number | null;
}

export interface VetAnswer {
    act: "vet";
    version: string;
    /** of coordinates */
    unit: "m" | "ft" | "us-ft";
    confidence: number;
    verdict: Verdict;
    tolerance_plan_mm: number;
    tolerance_height_mm: number;
    /** the one to lay from first */
    lists: VetList[];
    marks: VetMark[];
    /** by all sights, where there are some */
    job_causes: JobCause[];
    /** most probable first */
    explanations: VetExplanation[];
    /** probability of what is not listed */
    explanations_others: number;
    /** that some list is in another frame */
    frame_trouble: number;
    traps: VetTrap[];
    measured: VetMeasured[];
    /** less the first list */
    differences: VetDifference[];
    doubled_names: string[];
    one_place: [string, string][];
    matches: VetMatch[];
    /** each further list on the first */
    fits: VetFit[];
    /** building grid laid on the site */
    grid: VetGridLine[];
    global_test: GlobalTest;
    notices: string[];
}

export interface ProvePlace {
    east: number | null;
    north: number | null;
    height: number | null;
}

export interface ProvePoint {
    point: string;
    stations: string[];
    sights: number;
    laid: string | null;
    word: "proven" | "in doubt" | "fails";
    probability: number | null;
    probability_plan: number | null;
    probability_height: number | null;
    because: string;
    next: string;
    in_doubt_by: string | null;
    design: ProvePlace;
    as_laid: ProvePlace;
    deviation: OffMm;
    expected: OffMm;
    sd: OffMm;
    sd_plan_mm: number | null;
    tolerance_plan_mm: number | null;
    tolerance_height_minus_mm: number | null;
    tolerance_height_plus_mm: number | null;
    tolerance_source: string;
    grid: string | null;
}

export interface ProveMark {
    mark: string;
    sighted: boolean;
    word: "proven" | "in doubt" | "fails";
    probability: number | null;
    condition: string;
    sights: number;
    setups: number;
    sheet: ProvePlace;
    adjusted: ProvePlace;
    adjusted_sd: OffMm;
    /** by all sights less the sheet */
    off: OffMm;
    off_sd: OffMm;
}

export interface ProveMove {
    point: string;
    of: "plan" | "height";
    probability: number | null;
    before_first_sight: boolean;
    after: string | null;
    before: string | null;
    says: string;
    shift: OffMm;
    sd: OffMm;
    /** that used it after it moved */
    setups: string[];
    /** laid from these */
    points: string[];
}

export interface ProveSight {
    target: string;
    purpose: "control" | "check" | "lay" | "other";
    time: string | null;
    pointings: number;
    used: boolean;
    why_not_used: string | null;
    residual: SightResidual;
    standardised: SightFigures;
    redundancy: SightFigures;
}

export interface ProveSetup {
    station: string;
    over: string | null;
    placed: boolean;
    from: string | null;
    to: string | null;
    /** its sights fit the whole */
    fits: boolean;
    fit: string;
    ratio: number | null;
    redundancy: number | null;
    points_laid: number;
    probability_holds: number | null;
    watch_says: string | null;
    pose: ProvePlace;
    orientation_deg: number | null;
    sd: OffMm;
    orientation_sd_arcsec: number | null;
    sights: ProveSight[];
}

export interface ProveLine {
    kind: "tape" | "level";
    from: string;
    to: string;
    /** of a level: its run, or its file and line */
    by: string | null;
    value: number | null;
    sd_mm: number | null;
    residual_mm: number | null;
    standardised: number | null;
    redundancy: number | null;
    used: boolean;
}

export interface ProveRun {
    run: string;
    /** named ones, in order */
    points: string[];
    intermediate: string[];
    /** of the level */
    setups: number;
    /** of all its sights */
    length: number | null;
    /** backsights less foresights */
    imbalance: number | null;
    /** from its first point to its last */
    rise: number | null;
    sd_mm: number | null;
}

export interface ProveLoopMember {
    from: string;
    to: string;
    by: string;
}

export interface ProveLoop {
    kind: "loop" | "between-marks";
    points: string[];
    /** levelled less 0, or less what the sheet heights differ by */
    closure_mm: number | null;
    sd_mm: number | null;
    length: number | null;
    /** of the level */
    setups: number | null;
    allowed_mm: number | null;
    /** by which that is allowed */
    rule: string;
    /** of the rule */
    source: string;
    fits: boolean;
    says: string;
    members: ProveLoopMember[];
}

export interface ProveFit {
    says: string;
    statistic: number | null;
    redundancy: number;
    upper: number | null;
    passes: boolean;
    unknowns: number;
    observations: number;
}

export interface ProveComponent {
    group: string;
    figures: number;
    redundancy: number | null;
    /** found over stated */
    ratio: number | null;
    ratio_sd: number | null;
}

export interface ProveAnswer {
    act: "prove";
    version: string;
    job: string;
    /** of coordinates */
    unit: "m" | "ft" | "us-ft";
    confidence: number;
    verdict: Verdict;
    points_proven: number;
    points_in_doubt: number;
    points_fail: number;
    points_to_lay: number;
    points: ProvePoint[];
    marks: ProveMark[];
    moves: ProveMove[];
    causes: JobCause[];
    nothing_wrong: number | null;
    setups: ProveSetup[];
    lines: ProveLine[];
    /** of levels */
    runs: ProveRun[];
    /** those that do not fit first */
    loops: ProveLoop[];
    loose: string[];
    fit: ProveFit;
    components: ProveComponent[];
    notices: string[];
}

export interface RecordFile {
    name: string;
    mime: string;
    description: string;
    bytes: number;
    /** where the server gives it */
    path: string;
}

export interface RecordAnswer {
    act: "record";
    /** of the job it was made from */
    head: string;
    as_of: string | null;
    verdict: Verdict;
    points_proven: number;
    points_in_doubt: number;
    points_fail: number;
    /** of its facts */
    digest: string;
    files: RecordFile[];
}

export interface PlanAlternate {
    east: number | null;
    north: number | null;
    points_counted: number;
}

export interface PlanSetup {
    setup: string;
    east: number;
    north: number;
    /** by the nearest mark */
    near: string | null;
    /** to sight, in this order */
    marks: string[];
    /** mark to keep out as a check */
    check: string | null;
    points_in_sight: number;
    points_expected: number | null;
    points_counted: number;
    /** not counted by an earlier set-up */
    points_first: number;
    sd_plan_mm: number | null;
    nothing_wrong: number | null;
    named_if_moved: number | null;
    walk: number | null;
    alternate: PlanAlternate | null;
    remarks: string[];
}

export interface PlanMark {
    mark: string;
    east: number;
    north: number;
    /** obstacle over it */
    under: string | null;
    named_if_moved: number | null;
}

export interface PlanPoint {
    point: string;
    east: number;
    north: number;
    state: "counted" | "in-doubt" | "never-in-sight" | "in-obstacle" | "out-of-reach";
    setup: string | null;
    chance: number | null;
    best: number | null;
    /** what stands in the way; null: counted */
    why: "covered" | "no-place" | "far" | "hidden" | "few-marks" | "two-marks" | "tolerance" | null;
    says: string | null;
}

export interface PlanAdvice {
    aid: string;
    points_provable: number;
    gained: number;
    east: number | null;
    north: number | null;
    /** all tolerances wider by that */
    times_tolerance: number | null;
    says: string;
}

export interface PlanMap {
    west: number;
    south: number;
    step: number;
    columns: number;
    rows: number;
    /** points proven on average; null: nobody can stand there */
    expected: (number | null)[];
}

export interface PlanObstacle {
    corners: [number, number][];
    east: number | null;
    north: number | null;
    /** of a round one */
    radius: number | null;
    bottom: number | null;
    top: number | null;
}

export interface PlanAnswer {
    layproof: string;
    act: "plan";
    /** of coordinates */
    unit: "m" | "ft" | "us-ft";
    confidence: number;
    share: number;
    counts_from: number;
    verdict: Verdict;
    points: number;
    points_wanted: number;
    points_provable: number;
    points_counted: number;
    share_expected: number | null;
    /** no fewer set-ups can do it */
    at_least: number;
    greedy: number;
    certificate: string;
    walk: number | null;
    floor: number | null;
    rod: number | null;
    rod_on_marks: number | null;
    ground: string;
    drift_mm_after_an_hour: number | null;
    setups: PlanSetup[];
    marks: PlanMark[];
    point_reports: PlanPoint[];
    advice: PlanAdvice[];
    map: PlanMap;
    obstacles: PlanObstacle[];
    no_go: [number, number][][];
    notices: string[];
}

export interface PlaceAnswer {
    act: "plan-position";
    east_m: number | null;
    north_m: number | null;
    standing: "free" | "no-go" | "no-room" | "inside-obstacle";
    /** in sight */
    marks: string[];
    /** in sight, into point_reports */
    points: number[];
    /** of each to be called proven */
    chance: (number | null)[];
    points_expected: number | null;
    points_counted: number;
    sd_plan_mm: number | null;
    says: string;
}

export interface ToolFinding {
    finding: string;
    word: "proven" | "in doubt" | "fails";
    /** of taking less than its share */
    probability: number | null;
    unit: "arcsec" | "mm";
    value: number;
    sd: number | null;
    /** of a scatter */
    limit: number | null;
    dof: number;
    /** it differs from 0 */
    real: boolean;
    /** what it does to a laid point */
    at_radius_mm: number | null;
    says: string;
    next: string;
}

export interface ToolsAnswer {
    act: "vet";
    tool: "instrument" | "rod";
    version: string;
    unit: "m" | "ft" | "us-ft";
    confidence: number;
    verdict: Verdict;
    radius: number;
    tolerance_plan_mm: number;
    findings: ToolFinding[];
    notices: string[];
}

export interface KeepAnswer {
    act: "keep";
    /** numbers */
    kept: number;
}

export interface ReadField {
    ok: boolean;
    /** radians, metres, seconds, K, hPa */
    value: number | null;
    /** as it was understood */
    shown: string;
    /** why not */
    says: string;
    /** what would be taken */
    hint: string;
}

export interface ReadAnswer {
    act: "read";
    fields: Record<string, ReadField>;
}

export interface BookAnswer {
    act: "book";
    fact: string;
    says: string;
    notices: string[];
}

export interface TakenDocument {
    name: string;
    role: string;
    digest: string;
    known: boolean;
    rows_new: number;
    rows_known: number;
}

export interface TakeAnswer {
    documents: TakenDocument[];
    /** of the job */
    unit: "m" | "ft" | "us-ft" | null;
    notices: string[];
}

export interface Decided {
    fact: string | null;
    what: string;
}

export interface DecideAnswer {
    decision: "set-aside" | "put-back" | "accept" | "mark-moved";
    decided: Decided[];
}

export interface PreviewField {
    field: string;
    needed: boolean;
    unit_kind: "length" | "angle" | "none";
    /** of the file */
    column: string | null;
}

export interface PreviewAnswer {
    act: "preview";
    digest: string;
    name: string;
    /** as asked for, else guessed from the header */
    role: "marks" | "sights" | "setups" | "points" | "instrument" | "grid" | "causes" | "tapes" | "levels" | "drawing" | null;
    columns: string[];
    /** the first eight */
    rows: string[][];
    fields: PreviewField[];
    needs_unit: boolean;
    /** what take would say */
    refusal: Refusal | null;
    rows_total: number;
}

export interface StopAnswer {
    act: "stop";
    stopped: boolean;
}

export interface PairAnswer {
    token: string;
}

export interface JobEvent {
    facts: number;
    head: string;
    time: string;
}

export interface WorkEvent {
    work: string;
    says: string;
    /** 0 to 1 */
    done: number;
    ended: boolean;
}

/** What each act takes and gives. */
export interface Acts {
    sheet: { request: SheetRequest; answer: SheetAnswer };
    station: { request: StationRequest; answer: StationAnswer };
    lay: { request: LayRequest; answer: LayAnswer };
    watch: { request: WatchRequest; answer: WatchAnswer };
    vet: { request: VetRequest; answer: VetAnswer };
    sights: { request: SightsRequest; answer: SightsAnswer };
    read: { request: ReadRequest; answer: ReadAnswer };
    book: { request: BookRequest; answer: BookAnswer };
    decide: { request: DecideRequest; answer: DecideAnswer };
    preview: { request: PreviewRequest; answer: PreviewAnswer };
    take: { request: TakeRequest; answer: TakeAnswer };
    stop: { request: StopRequest; answer: StopAnswer };
    inbox: { request: InboxRequest; answer: InboxAnswer };
    tools: { request: ToolsRequest; answer: ToolsAnswer };
    keep: { request: ToolsRequest; answer: KeepAnswer };
    prove: { request: ProveRequest; answer: ProveAnswer };
    record: { request: RecordRequest; answer: RecordAnswer };
    plan: { request: PlanRequest; answer: PlanAnswer };
    place: { request: PlaceRequest; answer: PlaceAnswer };
}

export type ActName = keyof Acts;
