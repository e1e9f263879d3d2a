/** Small values kept in this browser. Every reader copes with a browser that refuses to keep anything. */

/**
 * @template T
 * @param {string} name
 * @param {T} otherwise  what counts where nothing readable is kept
 * @returns {T}
 */
export function kept(name, otherwise) {
  try {
    const text = localStorage.getItem(`bandwright.${name}`);
    return text === null ? otherwise : JSON.parse(text);
  } catch {
    return otherwise;
  }
}

/**
 * @param {string} name
 * @param {unknown} value
 * @returns {boolean} whether it was kept
 */
export function keep(name, value) {
  try {
    localStorage.setItem(`bandwright.${name}`, JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}
