/**
 * What the API takes and answers. Made by `python -m tools.make_schemas` of its OpenAPI description; not shipped.
 * In a page: `@typedef {import("../api").Change} Change`.
 */

/** How to accept a replan: with `keep_off` the interference on lost carriers is written into the brief. */
export interface Accept { client_key?: string | null; keep_off?: boolean }

/** What is done to a link in one step. */
export type Action = "retune" | "retune for now" | "switch off" | "switch on";

/** One thing to know or to do. */
export interface AdviceModel { code: string; text: string }

/** Another link whose verdict would differ: how it would stand, and why. */
export interface AffectedLink { link: string; id: string; ok: boolean; text: string }

/** Something that is new, went or got noisier. Levels are as each sweep read them, null where it shows none. `own_link` or `own_product` say that it is our own. */
export interface AirChangeModel { kind: ChangeKind; of: ChangeOf; low_mhz: number; high_mhz: number; centre_mhz: number; tv_channel: string | null; old_level: number | null; new_level: number | null; rise_db: number | null; own_link: string | null; own_product: string | null }

/** What the levels of two sweeps were aligned by. */
export type AlignedBy = "signals in both" | "noise floors" | "nothing";

/** How two sweeps were put on one scale; null: unknown. `offset_db` is what the new sweep reads more of the same air, `floor_rise_db` by how much its floor then rose. */
export interface AlignmentModel { by: AlignedBy; offset_db: number | null; spread_db: number | null; floor_rise_db: number | null }

/** An antenna (by its id) at a spot of the plan, as long as somebody holds it; the map is that of a link's kind. */
export interface AntennaInHand { link: string; antenna: string; at_m: [number, number] }

/** An antenna on the plan; `facing_deg` is null where nobody stated it, and then it looks at the middle. */
export interface AntennaSpotModel { id: string; name: string; at_m: [number, number]; height_m: number | null; facing_deg: number | null; pattern: string | null }

/** One antenna at a spot, and two of them 2 m apart there. */
export interface ApartModel { spot: string; one: SpotsModel; two: SpotsModel }

/** A link on the plan: its worst point (null: cannot be told), and in which part of its zone it is enough. `needed_db` is the margin asked for with one antenna, two, and so on; `lower_db` how much lower levels are with body and cables at their most; `kept` the part to be expected to be enough where levels scatter. */
export interface AreaLinkModel { id: string; zone: string | null; antennas: string[]; worst: PlanPointModel | null; walks: WalkPointModel[]; enough: number | null; kept: number | null; needed_db: number[]; lower_db: number; outside: string[] }

/** The plan judged. The map's first place has its middle half a step from `left_m` and `low_m`. */
export interface AreaModel { ok: boolean; outline_m: ([number, number])[]; left_m: number; low_m: number; step_m: number; columns: number; rows: number; antennas: AntennaSpotModel[]; maps: KindMapModel[]; links: AreaLinkModel[]; now_db: number | null; placing: PlacingModel[]; two_apart: ApartModel | null; near: NearModel[]; strong: StrongSenderModel[]; elsewhere: string[]; missing: GapModel[] }

/** How long the way takes, in ms: before the transmitter, in the air, over the link, behind it; null: not stated. */
export interface ArrivalModel { air_ms: number | null; before_ms: number | null; link_ms: number | null; behind_ms: number | null; total_ms: number | null }

/** What a receiver did. */
export type ArtefactKind = "flat top" | "floor raised by overload" | "spike in the middle of hops";

/** A stretch that the receiver made, not the air. */
export interface ArtefactModel { file: string; low_mhz: number; high_mhz: number; kind: ArtefactKind }

/** Levels at the antenna over the occupied bandwidth, in dBm, the gain behind it taken out. `outside_dbm` is the highest level less the instrument's own noise, `depth_dbm` that noise; `bears_dbm` is the highest level from outside that the link's receiver can bear, null where its radio type does not tell. */
export interface AtAntennaModel { outside_dbm: number | null; depth_dbm: number | null; bears_dbm: number | null; bears_because: string | null }

/** What there is to try companding with: a comparison that runs, somebody's recording, the newest comparison. */
export interface Bench { run: RunState | null; recording: RecordingLine | null; tried: Tried | null }

/** What a link has over what it needs elsewhere, and where that is, such as "at 30 m". */
export interface BesidesModel { reserve_db: number; where: string }

/** Another user's signal, and how far it stays below the 1 dB point of a stage (negative: above it). */
export interface BlockerModel { id: string; name: string; level_dbm: number; lowered_db: number; stage: string; below_db: number }

/** How good the plan is. */
export interface BoundModel { about: string; status: BoundStatus; found: number; upper_bound: number | null; method: string }

/** How sure a statement about a plan is. */
export type BoundStatus = "proven" | "bounded" | "found";

/** One run of a link. Levels are at the receiver's input; null is what missing facts leave open. */
export interface BranchModel { run: string | null; antenna: string | null; steps: LinkStepModel[]; path: PathModelModel | null; run_gain_db: number; noise_figure_db: number | null; iip3_dbm: number | null; level_dbm: number | null; lowest_level_dbm: number | null; noise_dbm: number | null; cn_db: number | null; margin_db: number | null; lowest_margin_db: number | null; margin_over: string | null; radiated_eirp_dbm: number | null }

/** All tables of the brief, and everything that is wrong with it now. */
export interface Brief { seq: number; entries: Entry[]; faults: ErrorModel[] }

/** The sweep that was brought, and what changed. */
export interface Brought { uid: string; change: Change }

/** A burst of 8 kHz: its peak before the limiter, for how long it is cut off, and what is lost of it. */
export interface BurstModel { peak_db: number; limited_ms: number; error_db: number }

/** What `bandwright capacity --json` prints: how many links of one radio type fit, and on which carriers. */
export interface CapacityDocument { schema: "bandwright.capacity/1"; program: string; inputs: (SweepInput | Input)[]; warnings: Warned[]; radio: string; place: string; beside: bandwright__documents__outputs__capacity__BesideModel | null; found: number; upper_bound: number | null; status: BoundStatus; method: string; carriers_mhz: string[]; relaxations: RelaxationModel[]; run: Run }

/** Something narrower than a multiplex: centre, width, highest power over it. */
export interface CarrierModel { file: string; centre_mhz: number; width_khz: number; level: number; unit: "dBm" | "dBuV" | "dBuV/m" | "dB"; above_floor_db: number }

/** Predicted carrier to interference in dB; null where nothing falls into the receiver's bandwidth. `worst_db` has every culprit at its nearest and the link at its farthest (levels in dBm at the antenna), `quantile_db` is what 95 of 100 stage pictures keep, `median_db` what half of them do, and `margin_db` the quantile over `needs_db`. */
export interface CarrierToInterferenceModel { worst_db: number | null; quantile_db: number | null; median_db: number | null; needs_db: number; needs_stated: boolean; margin_db: number | null; wanted_dbm: number; interference_dbm: number | null; culprit: CulpritModel | null }

/** What is closest to a carrier, what the sweeps say of it, and why it asks for caution. */
export interface CarrierWords { closest: string | null; noise: string | null; cautions: string[] }

/** A kind at an RF level. Errors are against the sound sent, in dB: lower is better. `tracking_468_db` is what is left without noise and fading. `cn_db` null: without noise. */
export interface CaseModel { kind: string; level: string; cn_db: number | null; doppler_hz: number | null; error_db: number; error_468_db: number; error_a_db: number; tracking_468_db: number; limited_percent: number; noise: bandwright__documents__outputs__sound_compare__NoiseModel; burst: BurstModel; static: StaticModel[] }

/** What a change did: the entries as it left them, the uids of those it removed, every fault of the brief now. */
export interface Change { seq: number; what: string; entries: Entry[]; removed: string[]; faults: ErrorModel[] }

/** What happened to something between two sweeps. */
export type ChangeKind = "new" | "not known before" | "gone" | "noisier";

/** What changed. */
export type ChangeOf = "carrier" | "multiplex" | "stretch";

/** The verdict on the plan before: links without and with a part in a broken rule. */
export interface CheckedModel { ok: boolean; violations: ViolationModel[]; fine: string[]; in_trouble: string[] }

/** The clocks that meet in one device; `one` is null where they are not all stated. */
export interface ClockModel { device: string; one: boolean | null; masters: MasterModel[]; missing: GapModel[] }

/** The rule with the smallest slack. `level` is the predicted level in dBm at the receiver, where it is known. */
export interface ClosestModel { rule: "spacing" | "product" | "other" | "tv" | "block" | "permit" | "power" | "bandwidth" | "grid" | "tuning" | "hold" | "noise" | "unmeasured" | "unit" | "time"; family: string | null; sources: string[]; product_hz: number | null; offset_khz: number; required_khz: number; slack_khz: number; level: number | null }

/** A radio type whose kinds of companding can be tried; else `why_not` says what is missing. */
export interface Comparable { radio: string; kinds: number; why_not: string | null }

/** What `bandwright compare --json` prints. */
export interface CompareDocument { schema: "bandwright.compare/1"; program: string; inputs: (SweepInput | Input)[]; warnings: Warned[]; ok: boolean; old: string; new: string; old_unit: "dBm" | "dBuV" | "dBuV/m" | "dB"; new_unit: "dBm" | "dBuV" | "dBuV/m" | "dB"; own_transmitters: string; alignment: AlignmentModel; changes: AirChangeModel[]; touched: TouchedModel[] }

/** Links that are not placed at once, while any one fewer of them are. Proven: no carriers for all of them exist. Suspected: none were found. Each of the remedies is one change under which all of them were placed. */
export interface ConflictModel { links: string[]; status: "proven" | "suspected"; remedies: string[]; text: string }

/** How many copies to make. */
export interface Copies { client_key?: string | null; count?: number }

/** What adds most to the interference; `family` is null for another carrier itself. `made` says where: sent as such, in the receiver, or in the transmitter of the first source. `level_dbm` is the part that falls into the receiver's bandwidth. */
export interface CulpritModel { family: string | null; made: "sent" | "receiver" | "transmitter"; sources: string[]; product_hz: number; offset_khz: number; level_dbm: number }

/** A device that was paired with the job, as it is told; `me` is the one that asks, `here` has a page open. */
export interface DeviceLine { uid: string; name: string; role: "edit" | "look"; paired: string; expires: string | null; last_seen: string | null; revoked: string | null; me: boolean; here: boolean }

/** Another name or role; what is absent stays. */
export interface DeviceWish { name?: string | null; role?: "edit" | "look" | null }

/** All devices, and whether the network reaches this laptop at all. */
export interface DevicesAnswer { devices: DeviceLine[]; lan: boolean; notice: string }

/** What is different; `same` says that nothing is. */
export interface Difference { lines: Line[]; same: boolean }

/** Which way the sound goes. */
export type Direction = "from-person" | "to-person" | "both";

/** What a receiver does with two antennas: nothing, leave the weaker one, take the better one, add both up. */
export type Diversity = "none" | "switching" | "selection" | "combining";

/** A link, one for each that a count makes; `held_hz` is the carrier that it must keep. */
export interface DrawnLink { uid: string; id: string; name: string; radio: string; place: string; held_hz: number | null; movable: string; worn: string }

/** Somebody else's transmitter. */
export interface DrawnOther { uid: string | null; id: string; name: string; place: string; carrier_hz: number; bandwidth_hz: number }

/** What a permit opens and closes, in Hz; `place` is None where it counts everywhere. */
export interface DrawnPermit { id: string; reference: string; state: string; place: string | null; windows_hz: ([number, number])[]; closed_hz: ([number, number])[] }

/** A place of the job. */
export interface DrawnPlace { id: string; name: string; timezone: string }

/** A carrier that a radio type has under a label. */
export interface DrawnPreset { label: string; hz: number }

/** A radio type that a link or a spare carrier uses: what it can be set to, in Hz. */
export interface DrawnRadio { id: string; name: string; kind: "microphone" | "in-ear" | "talkback"; bandwidth_hz: number; spacing_hz: number; tuning: ([number, number, number])[]; presets: DrawnPreset[] }

/** A TV channel at a place: "taken" by what the sweeps show, "closed" by the brief, or None. */
export interface DrawnTv { place: string; channel: string; low_hz: number; high_hz: number; word: string | null }

/** Levels at the ear in dB SPL: the loudest, the most that can come, and the daily exposure at the loudest. */
export interface EarModel { loudest_db: number | null; most_db: number; limited: boolean; daily_db: number | null; by_loudest: LimitModel[]; by_most: LimitModel[] }

/** Fields to change; null says nothing there. `base` is the revision of the entry when editing began. */
export interface Edit { client_key?: string | null; base: number; changes: { [key: string]: any } }

/** One end of a link or one column of the matrix: a radio type, its kind of companding, and what that does. */
export interface EndModel { radio: string; kind: string | null; about: string }

/** One table of the brief; `revision` is what an edit gives back as its `base`. */
export interface Entry { uid: string; kind: string; id: string | null; position: number; revision: number; value: { [key: string]: any } }

/** One thing that is wrong: what was given, what is allowed, what to do; and the cell, where it is one. */
export interface ErrorModel { code: string; text: string; file: string | null; line: number | null; key: string | null; given: string | null; allowed: string | null; hint: string | null; uid: string | null; field: string | null }

/** Every refusal. A conflict also holds `yours`, `theirs`, `by` and `entry`; a refused undo holds `clashes`. */
export interface Errors { errors: ErrorModel[]; [key: string]: any }

/** One event as a list shows it; `kind` is the kind of table, or what else was touched ("sweep", "plan"). */
export interface EventLine { seq: number; change: number; at: string; who: string; what: string; kind: string; uid: string }

/** Events, oldest first. */
export interface Events { events: EventLine[] }

/** One thing that is wrong with an input: what was given, what is allowed, what to do. `code` is a short stable word for programs; `text` is the whole sentence for people and ends without a line break. */
export interface Fault { code: string; text: string; file: string | null; line: number | null; key: string | null; given: string | null; allowed: string | null; hint: string | null }

/** What one file is: its unit, how often it swept, and when it began (as written, without a time zone). `traces` are those that could be chosen from, where there are several. */
export interface FileModel { unit: "dBm" | "dBuV" | "dBuV/m" | "dB"; rbw_khz: number | null; rbw_from: RbwOrigin | null; started: string | null; ended: string | null; duration_s: number | null; place: string | null; antenna: string | null; gain_ahead_db: number | null; own_transmitters: string; trace: string | null; name: string; points: number; sweeps: number; low_mhz: number; high_mhz: number; traces: string[]; carriers_not_listed: number; problems_not_listed: number }

/** What one rule says; `asked_by` is what asks for `required_khz`, `remedy` what would have to change. `restates` marks products that only say again that two carriers are nearer than their spacing. */
export interface FindingModel { rule: "spacing" | "product" | "other" | "tv" | "block" | "permit" | "power" | "bandwidth" | "grid" | "tuning" | "hold" | "noise" | "unmeasured" | "unit" | "time"; verdict: "stops" | "allows"; text: string; sources: string[]; family: string | null; product_hz: number | null; offset_khz: number | null; required_khz: number | null; asked_by: string | null; remedy: string | null; restates: boolean }

/** A stretch with one noise floor: the mean noise in one bin of `bin_khz`. */
export interface FloorModel { file: string; low_mhz: number; high_mhz: number; level: number; unit: "dBm" | "dBuV" | "dBuV/m" | "dB"; bin_khz: number }

/** What was found best among the kinds compared, by which number, and by how much. */
export interface FoundModel { kind: string; level: string; decided_by: "error_468_db" | "rest_468_db"; value_db: number; next: string | null; next_db: number | null; margin_db: number | null; alike: string[]; ranked: RankModel[] }

/** A fact to fill in, and what counts until then. */
export interface GapModel { table: string; id: string; key: string; meanwhile: string | null }

/** The map of a link's kind while an antenna is moved: `map` is as in the document, null where nothing can be told. `worst` is the worst point of the link itself, and `needed_db` the margin asked for with one antenna, two, and so on. */
export interface GlanceModel { left_m: number; low_m: number; step_m: number; map: KindMapModel | null; worst: PlanPointModel | null; needed_db: number[] }

/** How bad it is: wrong must be changed, a caution may hurt, a note is good to know. */
export type Grade = "wrong" | "caution" | "note";

/** A link (by its uid) on a carrier, as long as somebody holds it. */
export interface Hand { link: string; carrier_hz: number }

/** Which job this is, who asks, and what undo and redo would do for who asks. `boot` is another word after each start of the server: ask for everything again then. `job` stays the same for this job file. `invented` says that it is the bundled demonstration, and `first_run` that nobody has changed it yet. */
export interface Head { boot: string; job: string; seq: number; title: string | null; file: string; program: string; me: MeModel; undo: string | null; redo: string | null; first_run: boolean; invented: boolean }

/** A sound to listen to: what was sent (`kind` null), or what a kind made of it at an RF level. `lowered_db` is by how much it was lowered so that it is no louder than what was sent. */
export interface HeardFile { name: string; kind: string | null; level: string | null; size: number; lowered_db: number }

/** What everything was tried with: speech, sung, keys or clapper, or a file; its peak against full modulation. */
export interface HeardModel { what: string; file: string | null; seconds: number; of_seconds: number; channels: number; peak_db: number }

/** What moving a link to a carrier would mean: what it breaks, what comes closest, and whom it touches. */
export interface InHand { link: string; carrier_hz: number; ok: boolean; violations: ViolationModel[]; closest: ClosestModel | null; closest_text: string | null; affected: AffectedLink[] }

/** A file that an answer stands on. */
export interface Input { name: string; sha256: string }

/** The job that was planned. */
export interface JobModel { title: string; places: PlaceModel[]; dates: string[] }

/** What the plan keeps of an earlier one: of so many carriers how many, who moved, and who had none before. Proven: no plan that places as much keeps more. Found: none was found that does. */
export interface KeptModel { of: string; status: "proven" | "found"; had: number; kept: number; moved: MovedModel[]; new: string[] }

/** The number of the new plan, whether it is in force, and what changed. */
export interface KeptPlan { number: number; in_force: boolean; change: Change }

/** The number that the version has, and what changed. */
export interface KeptVersion { number: number; change: Change }

/** The map of links alike but for their carriers: rows up the plan, in each place the least of some points. `reserve_db` is what the margin has over what fading asks for with all antennas, `outage` the part of the time below what is needed, `audible_dropouts_per_min` how often that is heard (null where the signal is mostly gone); `levels_dbm`, `margins_db` and `outages` are by antenna. Null lies outside the outline, or cannot be told. */
export interface KindMapModel { links: string[]; antennas: string[]; reserve_db: ((number | null)[])[] | null; outage: ((number | null)[])[] | null; audible_dropouts_per_min: ((number | null)[])[] | null; levels_dbm: (((number | null)[])[])[]; margins_db: (((number | null)[])[])[] | null; outages: (((number | null)[])[])[] | null }

/** A kind of companding with every axis; `assumed` names those that nobody stated. */
export interface KindModel { name: string; words: string; ratio: number; expansion: number; detector: "rms" | "peak"; attack_ms: number; release_ms: number; bands: number; preemphasis_us: number; ultrasonic_filter_khz: number | null; deviation_khz: number; bandwidth_khz: number; audio_khz: number; assumed: string[] }

/** A link that must not be touched, or that should go and may not. */
export interface LeftAloneModel { link: string; text: string }

/** A published exposure limit, how long a level may last by it in a day, and whether the stated hours keep it. */
export interface LimitModel { name: string; over_8h_db: number; peak_db: number; source: string; hours: number; kept: boolean | null }

/** One difference: a sentence, and the table that it is about. */
export interface Line { text: string; kind: string; id: string | null }

/** A link with its carrier in the plan in force, how it stands there, and its ticks. */
export interface LinkLine { uid: string; id: string; name: string; carrier_hz: number | null; status: string | null; cautions: string[]; ticks: LinkTicks }

/** A link on which something is not ticked yet. */
export interface LinkName { uid: string; id: string; name: string }

/** One link. `state` is enough, short, or open where its margin cannot be told; `missing` says what to fill in. `standing` counts the plan of the place too, where the link is on it. */
export interface LinkReachModel { id: string; name: string; radio: string; direction: Direction; state: bandwright__core__reach__link__State; carrier_hz: number; carrier_mhz: string; carrier_from: string; distance_m: number | null; power_mw: number | null; body_loss_db: [number, number, number]; body_loss_from: string; branches: BranchModel[]; margin_db: number | null; walk: WalkModel | null; snr_db: number | null; squelch: SquelchModel | null; strong: StrongModel[]; advice: AdviceModel[]; missing: GapModel[]; carrier_to_interference: CarrierToInterferenceModel | null; standing: StandingModel | null }

/** One link. `state` is fits, caution, wrong, or open where facts are missing; `missing` says what to fill in. */
export interface LinkSoundModel { id: string; name: string; radio: string; direction: Direction; state: bandwright__core__sound__report__State; pairing: PairingModel; ways: WayModel[]; missing: GapModel[] }

/** One point along a link: how much it adds, then level and noise after it in dBm (null: not counted or unknown). `less_db` and `more_db` are by how much a loss may be smaller and larger. */
export interface LinkStepModel { what: string; name: string; gain_db: number; less_db: number; more_db: number; level_dbm: number; noise_dbm: number | null }

/** Who ticked what of a link, and when; null where nobody did. */
export interface LinkTicks { set: Said | null; heard: Said | null; walked: Said | null }

/** How many links there are, and those not set, not heard, not walked, by name. */
export interface LinksNow { total: number; not_set: LinkName[]; not_heard: LinkName[]; not_walked: LinkName[]; all: LinkLine[] }

/** From somebody's mouth over the own microphone and in-ear back to the ear. */
export interface LoopModel { wearer: string; microphone: string; ear: string; total_ms: number | null }

/** A clock (null: nobody says which) and the links that run on it. */
export interface MasterModel { clock: string | null; links: string[] }

/** How two ends go together; open: too little is stated to tell. */
export type Match = "same" | "compatible" | "wrong" | "open";

/** Who asks; `local` is the laptop that serves. */
export interface MeModel { name: string; role: "edit" | "look"; local: boolean }

/** One way among those that hear the same: how early it is, and the delay that evens that out. */
export interface MemberModel { link: string; total_ms: number; early_ms: number; delay_samples: number; delay_m: number; notches_hz: number[] }

/** A fact to fill in, and what counts until then. */
export interface MissingModel { table: string; id: string; key: string; meanwhile: string | null }

/** Put a link on a carrier; `base` is the number of the plan that whoever moves it has before their eyes. */
export interface Move { client_key?: string | null; link: string; carrier_hz: number; base: number }

/** One link that moves; `from_hz` is null for one that had no carrier, `spare` the spare carrier it takes. */
export interface MoveModel { link: string; from_hz: number | null; to_hz: number; when: "now" | "break"; spare: string | null; reason: string; text: string }

/** A link, or a spare carrier, that is not on its earlier carrier; null where it has none now. */
export interface MovedModel { id: string; from_hz: number; from_mhz: string; to_hz: number | null; to_mhz: string | null }

/** How close a link's pack may come to an antenna; `limit_dbm` is at its terminals, `stated` a stated 1 dB point. */
export interface NearModel { antenna: string; link: string; zone: string | null; radius_m: number; limit_dbm: number; stated: boolean; first: string; enters: boolean; ring_m: ([number, number])[] }

/** A table to add, behind another (by uid) or at the end; text in a cell that holds something else is read. */
export interface NewEntry { client_key?: string | null; kind: string; value: { [key: string]: any }; after?: string | null }

/** A note about a table or a link (`about`, its uid), about a plan (its number), or about the whole job. */
export interface NewNote { client_key?: string | null; text: string; about?: string | null; plan?: number | null }

/** The name under which to keep the job as it is. */
export interface NewVersion { client_key?: string | null; name: string }

/** What is to be done next, for whom the job waits meanwhile, and where it is done. */
export interface Next { text: string; waits_for: string; href: string }

/** What the sweeps say about a carrier's occupied bandwidth. */
export type NoiseState = "quiet" | "noisy" | "not deep enough" | "not measured";

/** A note as pages and sheets show it. Parameters ---------- about The uid of what it is about, UID.NUMBER for a link that a count makes; None for a plan or the whole job. plan The number of the plan that it is about. subject What it is about in words; None for the whole job. gone Whether that was removed since. at, who When it was first written, and by whom. */
export interface Note { uid: string; revision: number; text: string; about: string | null; plan: number | null; subject: string | null; gone: boolean; at: string; who: string }

/** What a note says from now on; `base` is its revision when editing began. */
export interface NoteEdit { client_key?: string | null; text: string; base: number }

/** Something worth knowing that breaks no rule, and whom it is about: two links that share a carrier, and may. */
export interface NoteModel { code: string; text: string; sources: string[] }

/** The note that was written, and what changed. */
export interface Noted { uid: string; change: Change }

/** Notes, the oldest first. */
export interface Notes { notes: Note[] }

/** What would open a stopped carrier. `links` are the fewest own links that would have to leave (`fewest`: proven, or found), null where moving any does not help; `stays` are the rules that keep it closed whatever moves, `immovable` the links in the way that are held or never move. */
export interface OpeningModel { links: string[] | null; fewest: "proven" | "found" | null; stays: ("spacing" | "product" | "other" | "tv" | "block" | "permit" | "power" | "bandwidth" | "grid" | "tuning" | "hold" | "noise" | "unmeasured" | "unit" | "time")[]; immovable: string[] }

/** Which of a kind come first; those not named follow in the order they had. */
export interface Order { client_key?: string | null; kind: string; uids: string[] }

/** What a device that wants in sends: the code, and the name by which the crew is to know it. */
export interface PairWish { code: string; name: string }

/** How a transmitter and a receiver go together. */
export interface PairingModel { transmitter: EndModel; receiver: EndModel; match: Match; faults: string[]; losses: string[]; notes: string[]; not_stated: string[]; fix: string | null }

/** A code that stands: shown on the laptop, typed or photographed by the device, once. */
export interface PairingOffer { code: string; expires: string; url: string; qr_svg: string; role: "edit" | "look"; notice: string }

/** Which role the code is to give. */
export interface PairingWish { role: "edit" | "look" }

/** Rows from a spreadsheet, tabs or commas between the cells; `columns` are its keys where no row names them. */
export interface Paste { client_key?: string | null; kind: string; text: string; after?: string | null; columns?: string[] | null }

/** The way through the air: which model, what it and the walls take away, and the ranges that were left. */
export interface PathModelModel { model: string; source: string; loss_db: number; walls_db: number; sigma_db: number | null; outside: string[] }

/** A permit in one line; `over` means past. */
export interface PermitLine { uid: string | null; id: string; reference: string; state: string; expires: string | null; over: boolean; text: string }

/** A place of the job. */
export interface PlaceModel { id: string; name: string }

/** A link with its carrier; `was_*` is the one it had in the plan that this one keeps to, null where it had none. */
export interface PlacedModel { id: string; name: string; radio: string; carrier_hz: number; carrier_mhz: string; status: Status; cautions: string[]; permit: string | null; tv_channel: string | null; preset: string | null; power_mw: number | null; noise: bandwright__documents__outputs__plan__NoiseModel | null; closest: ClosestModel | null; notes: NoteModel[]; was_hz: number | null; was_mhz: string | null; carrier_to_interference: CarrierToInterferenceModel | null }

/** The best sets of spots for some links, best first. `every`: all sets were looked at, and no better one exists among them. `links` are those that count: `inward` ones, which antennas receive, or those that antennas send to. `zones` are theirs, null for the whole area; `now_db` is what their worst point has as antennas stand. */
export interface PlacingModel { antennas: number; candidates: number; sets: number; every: boolean; best: SpotsModel[]; inward: boolean; links: string[]; zones: (string | null)[]; now_db: number | null }

/** What `bandwright plan --json` prints, and what stands in plan.json. */
export interface PlanDocument { schema: "bandwright.plan/1"; program: string; inputs: (SweepInput | Input)[]; warnings: Warned[]; job: JobModel; number: number; check_phrase: string; links: PlacedModel[]; spares: SpareModel[]; unplaced: UnplacedModel[]; bound: BoundModel; conflicts: ConflictModel[]; kept: KeptModel | null; levels: PlanLevelsModel | null; run: PlanRun }

/** The plan in force. `stale` says what changed since it was made, None where nothing did. */
export interface PlanFacts { number: number; check_phrase: string; made: string; stale: string | null; unplaced: string[] }

/** What levels stand on: how many pictures were drawn, links without any (`unknown`), and what to fill in. */
export interface PlanLevelsModel { pictures: number; worst_db: number | null; side_by_side: bandwright__documents__outputs__plan_levels__BesideModel[]; unknown: string[]; missing: MissingModel[] }

/** One plan in a list: what made it, and whether it is in force. */
export interface PlanLine { number: number; check_phrase: string; made: string; by: string; text: string; current: boolean }

/** A plan with its evidence; `stale` says what changed since it was made. `bound_text` says how good it is, `kept_text` how many carriers of an earlier plan it keeps and whether more could be (null where it kept to none), `texts` has the words for each link and spare carrier by its id. */
export interface PlanNow { number: number; check_phrase: string; made: string; by: string; stale: string | null; bound_text: string; kept_text: string | null; texts: { [key: string]: CarrierWords }; document: PlanDocument }

/** A link at a point; margins in dB and levels in dBm are by antenna. `audible_dropouts_per_min` is null where the signal is mostly gone. */
export interface PlanPointModel { at_m: [number, number]; reserve_db: number; margins_db: { [key: string]: number }; levels_dbm: { [key: string]: number }; outage: number; audible_dropouts_per_min: number | null; kept: number | null }

/** How the search went, the minute of the plan with its offset from UTC (ISO 8601), and how old the sweeps were. */
export interface PlanRun { seed: number; stopped: string; seconds: number; made: string; sweeps: SweepAgeModel[] }

/** All plans, newest first. */
export interface Plans { plans: PlanLine[] }

/** One of the eight: its state, one line, where it is mended, and whether somebody stated it. */
export interface Point { point: string; title: string; state: string; text: string; href: string; statement: Said | null }

/** One point of a way, in its own `unit` (dB SPL, dBu, dB against full deviation, dBFS); null is not known. `full` is what full deviation gives there, `clip` where it clips, `tone` what the 1 kHz alignment tone reads, `margin_db` by how much the source could rise before this point clips. */
export interface PointModel { where: string; name: string; unit: string; noise: number | null; quietest: number | null; loudest: number | null; peak: number | null; full: number | null; clip: number | null; tone: number | null; margin_db: number | null }

/** Something in a file that could not be used or had to be assumed. */
export interface ProblemModel { file: string; line: number | null; code: string; text: string }

/** A replan that nobody has accepted yet; `base` is the plan that it starts from. */
export interface Proposal { lost: string[]; base: number; document: ReplanDocument }

/** A kind and its worst error. */
export interface RankModel { kind: string; error_468_db: number }

/** Where a resolution bandwidth comes from. */
export type RbwOrigin = "stated in the file" | "stated beside the file" | "inferred from the bins";

/** What `bandwright reach --json` prints: how each link stands at the farthest point of its area. */
export interface ReachDocument { schema: "bandwright.reach/1"; program: string; inputs: (SweepInput | Input)[]; warnings: Warned[]; ok: boolean; links: LinkReachModel[]; area: AreaModel | null; cautions: string[] }

/** How links reach now: on the carriers of this plan in force, None where there is none yet. `carriers_from` says it in words. `cables` names the types of cable whose loss is known. */
export interface ReachNow { plan: number | null; carriers_from: string; cables: string[]; document: ReachDocument }

/** The readiness of a job now: what is next, the facts beside it, and the eight points. */
export interface ReadinessNow { next: Next; plan: PlanFacts | null; sweep: SweepFacts | null; links: LinksNow; printed: Said | null; since_print: string[]; spares: SpareFacts[]; permits: PermitLine[]; points: Point[] }

/** A reason: a short stable code, and a sentence. */
export interface ReasonModel { code: string; text: string }

/** A recording that somebody brought: `seconds` of `of_seconds` are taken, its channels averaged. */
export interface RecordingLine { name: string; seconds: number; of_seconds: number; channels: number }

/** What would fit if one rule were changed: `change` in words, `code` as a short stable word. */
export interface RelaxationModel { code: string; change: string; found: number; upper_bound: number | null; status: BoundStatus }

/** One thing to know or to do; `basis` is computed or common practice. */
export interface RemarkModel { code: string; grade: Grade; text: string; basis: string }

/** What `bandwright replan --json` prints. Moves stand in the order in which to make them; `steps` has it all. */
export interface ReplanDocument { schema: "bandwright.replan/1"; program: string; inputs: (SweepInput | Input)[]; warnings: Warned[]; checked: CheckedModel; moves: MoveModel[]; steps: StepModel[]; fewest: "proven" | "found"; not_touched: LeftAloneModel[]; stuck: LeftAloneModel[]; unplaced: string[]; spares: SpareChangeModel[]; plan: PlanDocument; run: Run }

/** Ids of links whose carriers are of no use where they stand; whether nobody is on the air yet. */
export interface ReplanWish { lost?: string[]; off_air?: boolean; time_limit_s?: number | null }

/** How a search went. Two answers to the same question are equal but for this. */
export interface Run { seed: number; stopped: string; seconds: number }

/** How a run stands. `state` is running, done, cancelled (its best is kept), failed, or dropped (the brief changed meanwhile). `plan` is the number of the plan that came out, None for a proposal. `share` is the part of the time limit that has passed, or of the work that is done where there is no limit. */
export interface RunState { run: string; kind: "plan" | "replan" | "sound"; state: "running" | "done" | "cancelled" | "failed" | "dropped"; text: string; placed: number | null; wanted: number | null; bound: number | null; share: number; elapsed_s: number; plan: number | null; errors: Fault[] }

/** What to run the engine with; what is absent is as the brief says. With `keep` as many links as can be keep the carriers of the plan in force. */
export interface RunWish { time_limit_s?: number | null; seed?: number | null; keep?: boolean }

/** Who stated something, when, and with which remark. */
export interface Said { uid: string; who: string; at: string; note: string }

/** Bins of one width side by side: bin i reaches from `low_hz + i * step_hz` to the next. */
export interface Segment { low_hz: number; step_hz: number; count: number }

/** One control: what it is set to, whether somebody set it, what suits best, and the settings that it has. */
export interface SettingModel { what: string; value_db: number; stated: boolean; recommended_db: number | null; low_db: number | null; high_db: number | null; step_db: number | null }

/** How the kinds of companding of a radio type carry a sound; `found` null: stopped before the end. */
export interface SoundCompareDocument { schema: "bandwright.sound-compare/1"; program: string; inputs: (SweepInput | Input)[]; warnings: Warned[]; radio: string; link: string | null; sound: HeardModel; seed: number; stopped: "done" | "cancelled"; kinds: KindModel[]; cases: CaseModel[]; found: FoundModel | null; files: TrackModel[]; cautions: string[] }

/** What `bandwright sound --json` prints: how each link sounds, and what the kit allows. */
export interface SoundDocument { schema: "bandwright.sound/1"; program: string; inputs: (SweepInput | Input)[]; warnings: Warned[]; ok: boolean; links: LinkSoundModel[]; matrix: PairingModel[]; together: TogetherModel[]; own_voice: LoopModel[]; clocks: ClockModel[]; cautions: string[] }

/** How the links of the job sound now, and which radio types can be compared. */
export interface SoundNow { document: SoundDocument; comparable: Comparable[] }

/** A spare carrier that is another one now; a carrier is null where there is none. */
export interface SpareChangeModel { id: string; from_hz: number | null; to_hz: number | null; text: string }

/** Spare carriers of one radio type: how many were wished for, and how many the plan in force still has. */
export interface SpareFacts { radio: string; wished: number; left: number }

/** A spare carrier; `was_*` as for a link. */
export interface SpareModel { id: string; radio: string; carrier_hz: number; carrier_mhz: string; preset: string | null; tv_channel: string | null; permit: string | null; noise: bandwright__documents__outputs__plan__NoiseModel | null; was_hz: number | null; was_mhz: string | null }

/** Everything that a drawing of the spectrum shows beside sweeps and the plan, resolved; all in whole Hz. */
export interface Spectrum { seq: number; places: DrawnPlace[]; permits: DrawnPermit[]; tv: DrawnTv[]; radios: DrawnRadio[]; links: DrawnLink[]; others: DrawnOther[] }

/** Spots taken together, and what the worst point of the links that count has with them. */
export interface SpotsModel { candidates: string[]; reserve_db: number; link: string; at_m: [number, number] }

/** Where to set the squelch, in dBm at the receiver's input; null where no setting fits both rules. */
export interface SquelchModel { level_dbm: number | null; over_noise_dbm: [number, number]; under_lowest_dbm: number }

/** The lowest that is known of a link: what its margin has over what fading asks for, and where. `where` says it in words ("at 30 m", "at the worst point of Stage"); `at_m` is the point of the plan, null where only the distance counts; `state` is open where something cannot be told. `besides` is the other of the two: that of a distance which was taken from the plan, or else the better one. */
export interface StandingModel { state: bandwright__core__reach__link__State; reserve_db: number | null; at_m: [number, number] | null; where: string | null; besides: BesidesModel | null }

/** The statement that stands now, and what changed; null where it stood already. */
export interface Stated { uid: string; change: Change | null }

/** What is stated: "set", "heard" or "walked" of a link, "printed", or one of the eight points. `client_time` is when it was ticked, where that was earlier: on a phone without network. `plan` is the number of the plan that whoever ticks had before their eyes. */
export interface Statement { client_key?: string | null; what: string; about?: string | null; note?: string; client_time?: string | null; plan?: number | null }

/** Something that was stated and stands. */
export interface StatementLine { uid: string; what: string; about: string | null; at: string; who: string; note: string; plan_number: number | null }

/** All that stand, oldest first. */
export interface Statements { statements: StatementLine[] }

/** A steady 1 kHz tone: in, on the air, out. */
export interface StaticModel { in_db: number; air_db: number; out_db: number }

/** How a placed link stands. */
export type Status = "clear" | "caution" | "blocked";

/** One thing to do, in its turn; a carrier is null where the link is off. */
export interface StepModel { link: string; action: Action; from_hz: number | null; to_hz: number | null; when: "now" | "break"; text: string }

/** A stretch of spectrum, and the file it is about. */
export interface StretchModel { file: string; low_mhz: number; high_mhz: number }

/** One run before strong signals, with levels at the antenna; null is what missing figures leave open. `clips_at_m` is how near one of the link's packs in sight drives `clips_first` to its 1 dB point, in free space. */
export interface StrongModel { run: string | null; p1db_dbm: number | null; clips_first: string | null; clips_at_m: number | null; passband_mhz: [string, string] | null; blockers: BlockerModel[] }

/** What a transmitter that stays put brings to an antenna's terminals, and at which level there something clips. */
export interface StrongSenderModel { transmitter: string; antenna: string; level_dbm: number; limit_dbm: number }

/** How long before the plan a sweep began, in seconds and in words; null where nobody knows when. */
export interface SweepAgeModel { sweep: string; age_s: number | null; age: string | null }

/** What `bandwright sweep --json` prints. With several files, `points` and `sweeps` are sums, the range is the widest, and every entry of a list names its `file`: sweeps by different instruments are not mixed. `shallow` is what was measured, but not deep enough for the links of a brief; null where no brief says how deep that is. */
export interface SweepDocument { schema: "bandwright.sweep/1"; program: string; inputs: (SweepInput | Input)[]; warnings: Warned[]; points: number; low_mhz: number; high_mhz: number; sweeps: number; files: FileModel[]; floor: FloorModel[]; gaps: StretchModel[]; quiet: StretchModel[]; shallow: StretchModel[] | null; tv: TvModel[]; carriers: CarrierModel[]; artefacts: ArtefactModel[]; problems: ProblemModel[]; others_written: string | null; drawn: string[] }

/** What is stated of a sweep; what is absent stays, null states nothing. */
export interface SweepEdit { client_key?: string | null; name?: string | null; place?: string | null; antenna?: string | null; gain_ahead_db?: any; rbw_khz?: any; own_transmitters?: "off" | "on" | "unknown" | null; started?: string | null; trace?: string | null; in_use?: boolean | null; removed?: false | null }

/** The newest sweep of the job. `age` is how old it is in words ("3 hours old", "from yesterday"), None where nobody knows; `old` means of another day or longer ago. */
export interface SweepFacts { name: string; own_transmitters: string; age: string | null; old: boolean }

/** How a sweep was made; null is what nobody stated. `rbw_from` says where the resolution bandwidth comes from, `gain_ahead_db` lies between antenna and instrument. */
export interface SweepFactsModel { unit: "dBm" | "dBuV" | "dBuV/m" | "dB"; rbw_khz: number | null; rbw_from: RbwOrigin | null; started: string | null; ended: string | null; duration_s: number | null; place: string | null; antenna: string | null; gain_ahead_db: number | null; own_transmitters: string; trace: string | null }

/** A sweep file that an answer stands on, and how the sweep was made. */
export interface SweepInput { name: string; sha256: string; sweep: SweepFactsModel }

/** One sweep of a job: what it is called, who brought it when, what is known of it, and whether plans count it. */
export interface SweepLine { uid: string; name: string; added: string; by: string; removed: string | null; facts: { [key: string]: any }; points: number; low_mhz: number; high_mhz: number; in_use: boolean }

/** All sweeps of the job, oldest first; those put aside behind them. */
export interface Sweeps { sweeps: SweepLine[] }

/** Ways that carry one and the same sound to one device. */
export interface TogetherModel { source: string; device: string | null; sample_rate_hz: number; members: MemberModel[]; inverted: string[] }

/** A link that something touches; `intruder`: energy on its carrier that is not its own. */
export interface TouchedModel { link: string; carrier_hz: number; carrier_mhz: string; intruder: boolean; text: string }

/** Where the levels of a sweep stand; the levels themselves come as numbers of two bytes (see `levels`). */
export interface Trace { unit: string; series: string[]; segments: Segment[]; count: number }

/** A file that was written, and by how much it was lowered so as not to be louder than the sound sent. */
export interface TrackModel { file: string; lowered_db: number }

/** The newest comparison: the run it came from, when it ended, and what changed since (`stale`). */
export interface Tried { run: string; ended: string; stale: string | null; files: HeardFile[]; document: SoundCompareDocument }

/** The verdict on one TV channel; `level` is the mean power over the width of a multiplex. */
export interface TvModel { file: string; low_mhz: number; high_mhz: number; channel: string; verdict: TvVerdict; level: number | null; unit: "dBm" | "dBuV" | "dBuV/m" | "dB"; confidence: number | null }

/** What a sweep says of a TV channel. */
export type TvVerdict = "nothing seen" | "shared" | "taken" | "not measured";

/** What would stop it if all concerned heard each other at one time, and the reason why that is not asked. */
export interface UnaskedModel { text: string; reason: ReasonModel; victim: string; sources: string[]; family: string | null; offset_khz: number; would_require_khz: number }

/** A link, or a wished spare carrier, without a carrier. */
export interface UnplacedModel { id: string; name: string; reasons: ReasonModel[] }

/** One version. */
export interface VersionLine { number: number; name: string; made: string; by: string }

/** All versions, newest first. */
export interface Versions { versions: VersionLine[] }

/** One broken rule: whose receiver or permit, by what, and by how much. */
export interface ViolationModel { rule: "spacing" | "product" | "other" | "tv" | "block" | "permit" | "power" | "bandwidth" | "grid" | "tuning" | "hold" | "noise" | "unmeasured" | "unit" | "time"; victim: string; sources: string[]; family: string | null; product_hz: number | null; offset_khz: number | null; required_khz: number | null; text: string }

/** Fading while somebody walks at the farthest point. `dropouts_per_min` counts every dip below what is needed, however short, and `dropout_s` is how long one lasts in the mean; `audible_dropouts_per_min` counts those longer than `audible_ms` (`audible_stated`: somebody stated that; otherwise it is assumed; null where the signal is mostly gone), and `needed_db` keeps these to one in `one_dropout_in_s`. */
export interface WalkModel { antennas: number; diversity: Diversity; correlation: number; spacing_m: number | null; rice_k_db: number | null; margin_db: number; needed_db: number; needed_with_one_antenna_db: number; one_dropout_in_s: number; audible_ms: number; audible_stated: boolean; outage: number; dropouts_per_min: number; dropout_s: number | null; audible_dropouts_per_min: number | null; places: number | null }

/** Where a walk is lowest for a link. */
export interface WalkPointModel { walk: string; name: string; lowest: PlanPointModel }

/** Which link or which radio type (by its id) is tried, and with what; without `sound` what its source is most like. "file" is the recording that somebody brought. With `walking` the carrier fades at the farthest point. */
export interface Wanted { link?: string | null; radio?: string | null; sound?: "speech" | "sung" | "keys" | "clapper" | "file" | null; walking?: boolean }

/** Something a reader must know though nothing failed. */
export interface Warned { code: string; text: string; where: string | null }

/** One way of the sound of a link, to one feed (null: nobody says where its output goes). */
export interface WayModel { feed: string | null; output: string | null; source: string | null; microphone: string | null; from_source_m: number | null; settings: SettingModel[]; points: PointModel[]; headroom_db: number | null; clips_first: string | null; over_noise_db: number | null; tone_dbfs: number | null; inverts: boolean | null; arrival: ArrivalModel; ear: EarModel | null; remarks: RemarkModel[] }

/** What `bandwright why --json` prints, the most important finding first. `beside` tells what counted: a plan, the links that the brief holds, or nothing. `carrier_to_interference` is what the link would have there, null where no levels can be predicted. */
export interface WhyDocument { schema: "bandwright.why/1"; program: string; inputs: (SweepInput | Input)[]; warnings: Warned[]; carrier_hz: number; carrier_mhz: string; link: string; radio: string; beside_plan: boolean; beside: "plan" | "held links" | "nothing"; allowed: boolean; findings: FindingModel[]; to_open: OpeningModel | null; not_asked: UnaskedModel[]; carrier_to_interference: CarrierToInterferenceModel | null }

/** A request that changes something. `client_key` is a word of the client's own: given again, the first answer comes again and nothing is done twice. */
export interface Wish { client_key?: string | null }

/** How a link stands: its margin is enough, too small, or cannot be told. */
export type bandwright__core__reach__link__State = "enough" | "short" | "open";

/** How a link sounds: fits, with a caution, wrong, or open where facts are missing. */
export type bandwright__core__sound__report__State = "fits" | "caution" | "wrong" | "open";

/** The plan whose carriers count as given, and how many they are. */
export interface bandwright__documents__outputs__capacity__BesideModel { number: number; check_phrase: string; carriers: number }

/** The highest level over the occupied bandwidth; null where nothing was measured, and `state` says so. `at_antenna` is null where the sweep is not calibrated: dBm, with antenna and gain ahead stated. */
export interface bandwright__documents__outputs__plan__NoiseModel { value: number | null; unit: string | null; over_khz: number | null; state: NoiseState; above_floor_db: number | null; sweep: string | null; sweep_started: string | null; at_antenna: AtAntennaModel | null }

/** Interference at `victim` that is too strong only while two packs are side by side. */
export interface bandwright__documents__outputs__plan_levels__BesideModel { one: string; two: string; victim: string; product_hz: number; level_dbm: number; carrier_to_interference_db: number; needs_db: number }

/** Noise against full modulation: at rest, and behind a 200 Hz tone; `tail_s` null: longer than a second. */
export interface bandwright__documents__outputs__sound_compare__NoiseModel { rest_db: number; rest_468_db: number; rest_a_db: number; behind_468_db: number; rise_db: number; tail_s: number | null }

/** The answer to each call. */
export interface Answers {
  "GET /api/brief": Brief;
  "GET /api/capacity": CapacityDocument;
  "GET /api/compare": CompareDocument;
  "GET /api/devices": DevicesAnswer;
  "DELETE /api/devices/{uid}": DeviceLine;
  "PATCH /api/devices/{uid}": DeviceLine;
  "POST /api/entries": Change;
  "POST /api/entries/order": Change;
  "POST /api/entries/paste": Change;
  "DELETE /api/entries/{uid}": Change;
  "PATCH /api/entries/{uid}": Change;
  "POST /api/entries/{uid}/copies": Change;
  "POST /api/entries/{uid}/singles": Change;
  "GET /api/events": Events;
  "GET /api/job": Head;
  "GET /api/notes": Notes;
  "POST /api/notes": Noted;
  "DELETE /api/notes/{uid}": Change;
  "PATCH /api/notes/{uid}": Change;
  "POST /api/pair": MeModel;
  "DELETE /api/pairing": null;
  "GET /api/pairing": PairingOffer | null;
  "POST /api/pairing": PairingOffer;
  "GET /api/plan": PlanNow | null;
  "POST /api/plan/move": KeptPlan;
  "POST /api/plan/preview": InHand;
  "GET /api/plan/run": RunState | null;
  "POST /api/plan/run": RunState;
  "POST /api/plan/run/cancel": RunState | null;
  "GET /api/plans": Plans;
  "GET /api/plans/{number}": PlanNow;
  "POST /api/plans/{number}/current": Change;
  "GET /api/reach": ReachNow;
  "POST /api/reach/preview": GlanceModel;
  "GET /api/readiness": ReadinessNow;
  "POST /api/redo": Change;
  "GET /api/replan": Proposal | null;
  "POST /api/replan": RunState;
  "POST /api/replan/accept": KeptPlan;
  "GET /api/schemas/brief": { [key: string]: any };
  "GET /api/sound": SoundNow;
  "GET /api/sound/compare": Bench;
  "POST /api/sound/compare": RunState;
  "POST /api/sound/compare/cancel": RunState | null;
  "DELETE /api/sound/recording": null;
  "POST /api/sound/recording": RecordingLine;
  "GET /api/spectrum": Spectrum;
  "GET /api/statements": Statements;
  "POST /api/statements": Stated;
  "DELETE /api/statements/{uid}": Change;
  "GET /api/sweeps": Sweeps;
  "POST /api/sweeps": Brought;
  "DELETE /api/sweeps/{uid}": Change;
  "GET /api/sweeps/{uid}": SweepDocument;
  "PATCH /api/sweeps/{uid}": Change;
  "GET /api/sweeps/{uid}/trace": Trace;
  "POST /api/undo": Change;
  "GET /api/versions": Versions;
  "POST /api/versions": KeptVersion;
  "GET /api/versions/{number}/difference": Difference;
  "POST /api/versions/{number}/restore": Change;
  "GET /api/why": WhyDocument;
}

/** Whether a path, as a page puts it together, is that of a call: whatever stands where the call has braces. */
type Fits<P extends string, C extends string> = P extends `${infer A}/${infer B}`
  ? C extends `${infer K}/${infer L}` ? (Part<A, K> extends true ? Fits<B, L> : false) : false
  : C extends `${string}/${string}` ? false : Part<P, C>;
type Part<A extends string, K extends string> = K extends `{${string}}` ? true : A extends K ? true : false;
type Bare<P extends string> = P extends `${infer Path}?${string}` ? Path : P;
type Call<M extends string, P extends string> = {
  [C in keyof Answers]: Fits<`${M} /api${Bare<P>}`, C> extends true ? C : never;
}[keyof Answers];
type Unknown<M extends string, P extends string> = string extends M ? true : string extends P ? true : false;

/** What a method and a path below /api answer; anything where they are known only when the page runs. */
export type Answer<M extends string, P extends string> = Unknown<M, P> extends true ? any : Answers[Call<M, P>];

/** The path, where it leads to a call; a path that leads nowhere is no value of this type. */
export type Known<M extends string, P extends string> = Unknown<M, P> extends true ? P
  : [Call<M, P>] extends [never] ? never : P;
