// What cannot wait for the modules; a plain script, run before anything is painted.

// The chosen theme: a dark set never sees a white flash.
(() => {
  try {
    const theme = localStorage.getItem("bandwright.theme");
    if (theme === "light" || theme === "dark") document.documentElement.dataset.theme = theme;
  } catch {
    // storage is refused: the system's setting counts
  }
})();

(() => {
  const page = /^#\/?(\w+)/.exec(location.hash)?.[1] ?? "ready";
  if (page === "pair") return;

  // The first answers, which come while the modules do: lib/api.js takes each of them once. Whoever is not let in is told
  // so by one of them, and not by each. They go before the modules: the service needs longer for them.
  const of = { plan: ["/spectrum", "/sweeps", "/plan/run"], air: ["/sweeps", "/spectrum"] };
  const more = /** @type {Record<string, string[]>} */ (of)[page] ?? [];
  const ask = (/** @type {string} */ path) => fetch(`/api${path}`, { credentials: "same-origin", priority: "high" });
  const job = ask("/job");
  const admitted = job.then((answer) => (answer.ok ? null : Promise.reject(new TypeError("not let in"))));
  /** @type {[string, Promise<Response>][]} */
  const early = [["/job", job]];
  for (const path of [...more, "/plan", "/brief", "/readiness"]) early.push([path, admitted.then(() => ask(path))]);
  for (const [, answer] of early) answer.catch(() => {}); // who takes it hears of it
  Object.assign(globalThis, { early: new Map(early.map(([path, answer]) => [`/api${path}`, answer])) });

  // The modules of this page beside those of all, which would be asked for only once the shell stands.
  const here = /** @type {HTMLScriptElement} */ (document.currentScript).src;
  const meta = /** @type {HTMLMetaElement | null} */ (document.querySelector(`meta[name="modules-${page}"]`));
  for (const path of meta?.content.split(" ") ?? []) {
    const link = document.createElement("link");
    link.rel = "modulepreload";
    link.href = new URL(`../${path}`, here).href;
    document.head.append(link);
  }
})();
