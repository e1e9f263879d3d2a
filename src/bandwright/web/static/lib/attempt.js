/** Try a change and say how it went: the sentence given, or the service's own words. */
import { tell } from "./toasts.js";

/**
 * @param {Promise<any>} work
 * @param {string} [done]  said when it went well
 * @returns {Promise<boolean>} whether it went well
 */
export async function attempt(work, done) {
  try {
    await work;
    if (done) tell(done);
    return true;
  } catch (error) {
    tell(/** @type {Error} */ (error).message, { kind: "refused" });
    return false;
  }
}
