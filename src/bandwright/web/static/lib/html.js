/** The one door to Preact, hooks, signals and htm. */
import { h } from "../vendor/preact.js";
import htm from "../vendor/htm.js";

export { Component, Fragment, createRef, h, render } from "../vendor/preact.js";
export { useCallback, useEffect, useId, useLayoutEffect, useMemo, useRef, useState } from "../vendor/hooks.js";
export { batch, computed, effect, signal, untracked, useComputed, useSignal, useSignalEffect } from "../vendor/signals.js";

/** Markup as a tagged template; child components go in by `h(Part, props)`, whose props are checked. */
export const html = htm.bind(h);
