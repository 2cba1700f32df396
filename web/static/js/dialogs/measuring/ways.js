// @ts-check
/**
 * The ways of measuring, in the order in which the bench offers them. A way is a value of its own module:
 *
 *   export const photographs = { id: 'photographs', label: 'Photographs', note: 'Photographs of the blank, …', mount };
 *
 * and gets its place by one import and one entry in `WAYS`: photographs between the probe and the scan. `mount(element,
 * bench)` fills `element` (a column, at least 300 px wide, that scrolls) with the way's own form and returns
 * `{ dispose, render?, fault? }`: `render` is called when the job or the unit shown has changed, `fault` with the places
 * that the server refused (empty: none any more), `dispose` when another way is chosen or the dialog closes. A way gives
 * up its timers, listeners and streams then; `bench.run` is aborted for it. The plots, the findings, the list of how and
 * the button that takes the skin belong to the dialog: a way gives an answer, the dialog shows it.
 *
 * What a way can rely on (`bench`):
 *   store, tools       the page's own, so that the fields of views/forms/fields.js can be used
 *   memory             a plain object of this way, which lives until the page is left: what was typed or chosen, files;
 *                      the dialog keeps the last answer in `memory.answer` and shows it when the way is chosen again
 *   ask(path, body, signal?)   POSTs JSON to <api>/measure/<path> and gives the JSON answered; throws a Refusal
 *   file(path, body, signal?)  the same where the server writes a program: `{ file, name, findings, time_s }`
 *   upload(file)       stores a file: `{ id, kind, … }` as POST <api>/assets answers
 *   measured           what has been measured since the page was opened, newest last: `{ label, blank }`
 *   run(words, work)   tells `words` while `await work(signal)` runs, aborts what ran before, asks a busy server again,
 *                      tells a refusal with its places, shows what was answered where it holds a skin; gives the answer,
 *                      or null where there is none
 *   show(answer)       shows an answer that came by another road (a stream, a second page); null clears the plots
 *   tell(words)        one line of state under the form
 *
 * @typedef {{ file: Blob, name: string, findings: any[], time_s: number }} Written
 * @typedef {{ pointer: string, given?: unknown, allowed: string }} Fault
 * @typedef {{ blank: any, sigma_mm: number, findings: any[], how: [string, string][], skin: any, readings: any, job?: any }} Answer
 * @typedef {{
 *   store: any, tools: any, memory: Record<string, any>, measured: { label: string, blank: any }[],
 *   ask: (path: string, body: any, signal?: AbortSignal) => Promise<any>,
 *   file: (path: string, body: any, signal?: AbortSignal) => Promise<Written>,
 *   upload: (file: File) => Promise<any>,
 *   run: (words: string, work: (signal: AbortSignal) => Promise<any>) => Promise<any>,
 *   show: (answer: Answer|null) => void, tell: (words: string) => void,
 * }} MeasuringBench
 * @typedef {{ dispose: () => void, render?: () => void, fault?: (faults: Fault[]) => void }} Mounted
 * @typedef {{ id: string, label: string, note: string, mount: (element: HTMLElement, bench: MeasuringBench) => Mounted }} Way
 */
import { again } from './again.js';
import { callipers } from './callipers.js';
import { photographs } from './photographs/way.js';
import { probe } from './probe.js';
import { readings } from './readings.js';
import { scan } from './scan.js';

/** @type {readonly Way[]} */
export const WAYS = Object.freeze([callipers, probe, photographs, scan, readings, again]);
