/**
 * Ask again and again while something moves, one question on the way at a time, and only ever believe the newest answer.
 * @module chart/newest
 */

/**
 * @template Q, A
 * @param {(question: Q) => Promise<A>} ask
 * @param {(answer: A, question: Q) => void} heard called for answers to the newest question only
 * @param {(error: unknown, question: Q) => void} [failed]
 * @returns {{ask: (question: Q) => void, forget: () => void}} `forget`: nothing that is on the way counts any more
 */
export function newestWins(ask, heard, failed = () => {}) {
  let round = 0;
  let busy = false;
  /** @type {{question: Q, round: number} | null} */
  let waiting = null;

  async function go() {
    busy = true;
    try {
      while (waiting) {
        const now = waiting;
        waiting = null;
        try {
          const answer = await ask(now.question);
          if (now.round === round) heard(answer, now.question);
        } catch (error) {
          if (now.round === round) failed(error, now.question);
        }
      }
    } finally {
      busy = false;
    }
  }

  return {
    ask(question) {
      round += 1;
      waiting = { question, round };
      if (!busy) void go();
    },
    forget() {
      round += 1;
      waiting = null;
    },
  };
}
