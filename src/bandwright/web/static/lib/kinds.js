/** The tables of a brief as they stand on screen: which columns, in which order, and what a new row starts with. */

/**
 * @typedef {object} Kind
 * @property {string} kind
 * @property {string} title
 * @property {string} one  what one row is called
 * @property {string} why  said where there are none yet
 * @property {string[]} columns  always there
 * @property {string[]} more  there where somebody uses or wants them
 * @property {(rows: import("./types.js").Entry[]) => { [field: string]: any }} start  of a new row, from those above it
 * @property {string} [add]  what the button says, where "Add a" does not fit
 * @property {string} [caution]
 */

const last = (/** @type {import("./types.js").Entry[]} */ rows, /** @type {string[]} */ fields) =>
  Object.fromEntries(fields.filter((field) => rows.at(-1)?.value[field] !== undefined).map((field) => [field, rows.at(-1)?.value[field]]));

/** @type {Kind[]} */
export const KINDS = [
  {
    kind: "link",
    title: "Links",
    one: "link",
    why: "A link is one carrier: a microphone, an in-ear mix, a talkback. Write down who needs one, or paste the cast list from a spreadsheet.",
    columns: ["id", "name", "role", "radio", "worn", "power_mw", "hold_mhz", "desk_input"],
    more: ["count", "priority", "earshot", "on_air", "place", "movable", "unit", "receiver", "rack", "antenna", "wearer", "apart_from", "distance_m", "walls", "note"],
    start: (rows) => last(rows, ["radio", "worn", "power_mw", "earshot", "place"]),
  },
  {
    kind: "radio",
    title: "Radio types",
    one: "radio type",
    why: "The facts of a transmitter and receiver family, from its data sheet. Links name the type they are made with.",
    columns: ["id", "name", "direction", "tuning", "emission", "bandwidth_khz", "spacing_khz", "clearance_khz", "power_mw", "power_kind"],
    more: ["presets", "defaults", "kit", "front_end_window_mhz", "front_end_shared", "designator", "peak_deviation_khz", "channels_per_unit", "invented", "note"],
    start: () => ({}),
  },
  {
    kind: "permit",
    title: "Permits",
    one: "permit",
    why: "What may be used here: windows in frequency, power, bandwidth, and how far the permit has come. Nothing is planned outside them.",
    columns: ["id", "reference", "state", "windows_mhz", "max_bandwidth_khz", "max_power", "valid"],
    more: ["rules", "closed_mhz", "place", "grid_khz", "grid_anchor_mhz", "inside", "confirmed", "source"],
    start: () => ({ state: "applied" }),
    caution: "Spectrum law is local: rules shipped with this program are dated copies to start from; the regulator’s current text decides. A permit that is only applied for is not granted.",
  },
  {
    kind: "other",
    title: "Other users",
    one: "other user",
    add: "Add another user",
    why: "Transmitters that are not ours and will not move for us: house talkback, the crew next door. Our carriers keep away from them.",
    columns: ["id", "name", "carrier_mhz", "bandwidth_khz", "level_dbm", "keep_away_khz", "makes_products"],
    more: ["protect", "earshot", "on_air", "place"],
    start: () => ({ bandwidth_khz: 200 }),
  },
  {
    kind: "place",
    title: "Places",
    one: "place",
    why: "Where it happens: its time zone, and which TV channels are on the air there.",
    columns: ["id", "name", "timezone", "tv_raster", "tv_closed", "tv_guard_khz"],
    more: ["path"],
    start: () => ({}),
  },
  {
    kind: "pair",
    title: "Pair rules",
    one: "pair rule",
    why: "A spacing between two kinds of links that goes before what their types ask, such as an in-ear receiver and a pack on one belt.",
    columns: ["id", "one", "two", "spacing_khz", "where"],
    more: [],
    start: () => ({ spacing_khz: 3000, where: "same-wearer" }),
  },
  {
    kind: "earshot",
    title: "Earshots",
    one: "earshot",
    add: "Add an earshot",
    why: "Sets of links that hear each other. Links in different earshots may use the same carrier.",
    columns: ["id", "name"],
    more: [],
    start: () => ({}),
  },
  {
    kind: "isolation",
    title: "Isolation",
    one: "isolation",
    add: "Add an isolation",
    why: "What two earshots hear of each other after all, in dB. Without an entry they do not hear each other.",
    columns: ["id", "between", "db", "binds"],
    more: [],
    start: () => ({}),
  },
  {
    kind: "unit",
    title: "Boxes",
    one: "box",
    why: "Physical boxes with their serial numbers and racks. A plan does not need them; setting them does.",
    columns: ["id", "name", "radio", "serial", "rack", "antenna"],
    more: [],
    start: (rows) => last(rows, ["radio", "rack", "antenna"]),
  },
  {
    kind: "antenna",
    title: "Antennas",
    one: "antenna",
    add: "Add an antenna",
    why: "Antennas at the rack’s end of links: their gain, height and place. With them, and what lies behind them, the program tells how strongly each link arrives.",
    columns: ["id", "name", "gain_dbi", "height_m", "at_m", "polarisation_loss_db", "site_noise_db"],
    more: ["place"],
    start: (rows) => last(rows, ["gain_dbi", "height_m", "polarisation_loss_db", "site_noise_db", "place"]),
    caution: "Keep masts well away from power lines. Work at height, mains supplies and exposure to radio fields are for competent people under the local rules.",
  },
  {
    kind: "run",
    title: "Cables and devices",
    one: "run",
    why: "What lies between an antenna and the receivers, or the in-ear transmitter, at its other end: cables, filters, splitters, amplifiers, in order.",
    columns: ["id", "name", "antenna", "parts", "feeds"],
    more: [],
    start: () => ({}),
  },
  {
    kind: "source",
    title: "Sources",
    one: "source",
    why: "What links carry: a voice, an instrument, a programme that comes by cable; how quiet and how loud it gets. Links name it.",
    columns: ["id", "name", "what", "quietest", "loudest", "quietest_db_spl", "loudest_db_spl", "peaks_db", "headroom_db"],
    more: ["at_m", "quietest_dbu", "loudest_dbu"],
    start: (rows) => last(rows, ["what"]),
  },
  {
    kind: "microphone",
    title: "Microphones",
    one: "microphone",
    why: "Microphones with what stands between them and the transmitter, from their data sheets. Links name them; gains follow from them.",
    columns: ["id", "name", "sensitivity_mv_per_pa", "most_db_spl", "self_noise_db", "output_ohm", "needs"],
    more: ["pad_db", "inverts"],
    start: () => ({}),
  },
  {
    kind: "feed",
    title: "Feeds",
    one: "feed",
    why: "Where outputs of receivers go: a desk, a recorder, a camera, an ear; what comes out there and what may go in.",
    columns: ["id", "name", "for", "output", "input", "reference", "cable_m", "latency_ms"],
    more: ["output_db", "full_scale_dbu", "most_dbu", "noise_dbu", "trims", "trim_db", "pad_db", "phantom", "balanced", "earpiece", "limiter_db", "hours"],
    start: () => ({}),
    caution: "In-ear levels can harm hearing: start low, and measure at the ear. Never retune or switch a transmitter that is in somebody’s ears.",
  },
  {
    kind: "block",
    title: "Blocks",
    one: "block",
    why: "Parts of the spectrum that some links keep to, or that are kept free for them.",
    columns: ["id", "for", "windows_mhz", "keep_out", "place"],
    more: [],
    start: () => ({}),
  },
];

/** Which kind of entry a field names, where it names one; "run.antenna" only in a run. @type {{ [field: string]: string }} */
export const NAMES = {
  radio: "radio",
  receiver_radio: "radio",
  place: "place",
  unit: "unit",
  earshot: "earshot",
  between: "earshot",
  apart_from: "link",
  "run.antenna": "antenna",
  "link.source": "source",
  "link.microphone": "microphone",
};

/** Headings that the field's own words would not make. @type {{ [field: string]: string }} */
const HEADINGS = {
  id: "Label",
  hold_mhz: "Held at, MHz",
  desk_input: "Desk input",
  on_air: "On air",
  power_mw: "Power, mW",
  count: "How many",
  max_power: "Most power",
  windows_mhz: "Windows, MHz",
  clearance_khz: "Products kept off, kHz",
  carrier_mhz: "Carrier, MHz",
  makes_products: "Makes products",
  tv_raster: "TV raster",
  tv_closed: "TV channels taken",
  tv_guard_khz: "TV guard, kHz",
  close_above_floor_db: "Closes above floor, dB",
  time_limit_s: "Longest search, s",
  needs_cn_db: "Carrier over noise needed, dB",
  audible_ms: "Dropouts heard above, ms",
  seed: "Random seed",
  at_m: "Stands at x, y, m",
  for: "For",
  sensitivity_mv_per_pa: "Sensitivity, mV/Pa",
  most_db_spl: "Most it takes, dB SPL",
  quietest_db_spl: "Quietest, dB SPL",
  loudest_db_spl: "Loudest, dB SPL",
  output_ohm: "Output, Ω",
  db_per_100m: "Loss per 100 m, dB",
  gain_dbi: "Gain, dBi",
  iip3_dbm: "Input IP3, dBm",
  p1db_dbm: "Input 1 dB point, dBm",
  if_mhz: "Intermediate frequencies, MHz",
  lo_side: "Oscillator side",
  what: "What it is",
  spares: "Spare carriers",
  unmeasured: "Not measured",
};

/** Units as the names of fields end in them. @type {{ [ending: string]: string }} */
const UNITS = { mhz: "MHz", khz: "kHz", mw: "mW", dbm: "dBm", dbi: "dBi", dbu: "dBu", db: "dB", deg: "°", hz: "Hz", us: "µs", ms: "ms", mm: "mm", m: "m", s: "s", h: "h", c: "°C" };

/** @param {string} field @returns {{ words: string, unit: string }} such as "loss" and "dB"; the unit is empty where it has none */
export function named(field) {
  const found = /^(?:(.+)_)?([a-z]+)$/.exec(field);
  const unit = (found && UNITS[found[2]]) ?? "";
  return { words: (unit ? (found?.[1] ?? "") : field).replaceAll("_", " "), unit };
}

/** @param {string} field @returns {string} such as "Spacing, kHz" */
export function heading(field) {
  if (HEADINGS[field]) return HEADINGS[field];
  if (field.startsWith("iip3_dbm or p1db_dbm")) return "Input IP3 or 1 dB point, dBm";
  const { words, unit } = named(field);
  const said = words || (unit === "dB" ? "level" : "frequency");
  return `${said[0].toUpperCase()}${said.slice(1)}${unit && `, ${unit}`}`;
}
