/**
 * What the service tells the Plan and Air pages, as types for the checker; no code.
 *
 * @typedef {import("../../chart/lanes.js").Kind} Kind
 *
 * @typedef {import("../../api").ClosestModel} Closest
 * @typedef {import("../../api").ViolationModel} Violation
 * @typedef {import("../../api").PlacedModel} Placed
 * @typedef {import("../../api").UnplacedModel} Unplaced
 * @typedef {import("../../api").SpareModel} SpareFacts
 * @typedef {import("../../api").PlanDocument} PlanDocument
 * @typedef {import("../../api").PlanNow} PlanNow
 * @typedef {import("../../api").CarrierWords} Texts
 * @typedef {import("../../api").PlanLine} PlanEntry
 * @typedef {import("../../api").DrawnRadio} RadioFacts
 * @typedef {import("../../api").DrawnLink} LinkFacts
 * @typedef {import("../../api").DrawnOther} OtherFacts
 * @typedef {import("../../api").Spectrum} Spectrum
 * @typedef {import("../../api").RunState} Run
 * @typedef {import("../../api").InHand} Preview
 *
 * @typedef {object} Row  One thing with a place in the spectrum, or a link without one.
 * @property {string} id
 * @property {string | null} uid
 * @property {string} name
 * @property {Kind} kind
 * @property {RadioFacts | null} radio
 * @property {number | null} hz
 * @property {string | null} status
 * @property {boolean} held
 * @property {Placed | null} placed
 * @property {{code: string, text: string}[]} reasons
 * @property {Texts | null} texts
 * @property {LinkFacts | null} link
 * @property {number} [bandwidth]
 *
 * @typedef {import("../../api").SweepLine} SweepEntry
 * @typedef {{file: string, low_mhz: number, high_mhz: number}} Stretch
 * @typedef {import("../../api").SweepDocument} AirReport
 */
export {};
