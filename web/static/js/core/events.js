// @ts-check
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
