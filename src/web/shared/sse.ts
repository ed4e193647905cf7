/** One message of an event stream. */
export interface SseMessage {
  event: string;
  data: string;
  /** id of the last message that had one, this one included; empty when there was none */
  lastId: string;
}

/**
 * Reads a stream of server-sent events piece by piece, wherever the pieces are cut (HTML standard, section 9.2.6).
 *
 * @returns a function that takes the next piece of text and gives the messages that are complete with it
 */
export function sseParser(): (piece: string) => SseMessage[] {
  let rest = '';
  let lastId = '';
  let event = '';
  let data: string[] = [];
  const take = (line: string): SseMessage | undefined => {
    if (line === '') {
      const message = { event: event === '' ? 'message' : event, data: data.join('\n'), lastId };
      const isEmpty = data.length === 0;
      event = '';
      data = [];
      return isEmpty ? undefined : message;
    }
    const [, field = '', value = ''] = /^([^:]*)(?:: ?(.*))?$/su.exec(line) ?? [];
    if (field === 'data') data.push(value);
    else if (field === 'event') event = value;
    else if (field === 'id' && !value.includes('\0')) lastId = value;
    return undefined;
  };
  return (piece) => {
    // A carriage return at the end may be half of a line break.
    const lines = `${rest}${piece}`.split(/\r\n|\n|\r(?!$)/u);
    rest = lines.pop() ?? '';
    return lines.flatMap((line) => take(line) ?? []);
  };
}
