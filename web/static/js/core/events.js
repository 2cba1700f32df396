// @ts-check
/**
 * Reads an answer's stream of events to its end and calls `heard` with the JSON of each.
 * @param {Response} answer @param {(data: any) => void} heard
 */
export async function hear(answer, heard) {
  const reader = /** @type {ReadableStream<Uint8Array>} */ (answer.body).getReader();
  const decoder = new TextDecoder();
  const take = eventReader();
  for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    for (const data of take(decoder.decode(value, { stream: true }))) heard(JSON.parse(data));
  }
}

/**
 * Server-sent events as text: takes pieces as they come, gives the data of each whole event (WHATWG HTML, 9.2.6).
 * @returns {(piece: string) => string[]}
 */
export function eventReader() {
  let held = '';
  return (piece) => {
    held = (held + piece).replaceAll('\r\n', '\n');
    const blocks = held.split('\n\n');
    held = blocks.pop() ?? '';
    return blocks
      .map((block) => block.split('\n').filter((line) => line.startsWith('data:')).map((line) => line.slice(line[5] === ' ' ? 6 : 5)).join('\n'))
      .filter((data) => data !== '');
  };
}
