// @ts-check
/**
 * The ways of measuring, in the order in which the bench offers them. A way is a value of its own module:
 *
 *   export const photographs = { id: 'photographs', label: 'Photographs', note: 'of the blank turned by known angles', mount };
 *
 * and gets its place by one import and one entry in `WAYS`. `mount(element, bench)` fills `element` (a column, at least
 * 300 px wide, that scrolls) with the way's own form and returns `{ dispose, render? }`: `render` is called when the
 * job or the unit shown has changed, `dispose` when another way is chosen or the dialog closes. It gives up timers,
 * listeners and streams; `bench.run` is aborted for it. The plots, the findings, the list of how and the button that
 * takes the skin belong to the dialog: a way gives an answer, the dialog shows it.
 *
 * What a way can rely on (`bench`):
 *   store, tools       the page's own, so that the fields of views/forms/fields.js can be used
 *   memory             a plain object of this way, which lives until the page is left: what was typed or chosen, files
 *   ask(path, body, signal?)   POSTs JSON to <api>/measure/<path> and gives the JSON answered; throws a Refusal
 *   upload(file)       stores a file: `{ id, kind, … }` as POST <api>/assets answers
 *   run(words, work)   tells `words` while `await work(signal)` runs, aborts what ran before, tells a refusal with its
 *                      places, shows what was answered where it holds a skin; gives the answer, or null where it failed
 *   show(answer)       shows an answer that came by another road (a stream, a second page); null clears the plots
 *   tell(words)        one line of state under the form
 *
 * @typedef {{ blank: any, sigma_mm: number, findings: any[], how: [string, string][], skin: any, readings: any, job?: any }} Answer
 * @typedef {{
 *   store: any, tools: any, memory: Record<string, any>,
 *   ask: (path: string, body: any, signal?: AbortSignal) => Promise<any>, upload: (file: File) => Promise<any>,
 *   run: (words: string, work: (signal: AbortSignal) => Promise<any>) => Promise<any>,
 *   show: (answer: Answer|null) => void, tell: (words: string) => void,
 * }} MeasuringBench
 * @typedef {{ id: string, label: string, note: string, mount: (element: HTMLElement, bench: MeasuringBench) => { dispose: () => void, render?: () => void } }} Way
 */

/** @type {readonly Way[]} */
export const WAYS = Object.freeze([]);
