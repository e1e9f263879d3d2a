/** Keys for changes. On plain HTTP in a local network there is no `crypto.randomUUID`; random bytes there are. */

/** @returns {string} 32 hexadecimal digits */
export function randomKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}
