import type { AddressInfo } from 'node:net';
import { SMTPServer } from 'smtp-server';

/** What the server says at one point of the conversation; absent: yes. `hang-up` closes the connection instead. */
export interface Manners {
  recipient?: { code: number; text: string };
  data?: { code: number; text: string } | 'hang-up';
}

export interface TestSmtp {
  port: number;
  /** messages that were handed over whole, as they came over the wire */
  received: string[];
  manners: Manners;
  close(): Promise<void>;
}

const fault = ({ code, text }: { code: number; text: string }) =>
  Object.assign(new Error(text), { responseCode: code });

/** A mail server that speaks SMTP (RFC 5321) on a free port of this machine, by a library of its own. */
export async function startSmtp(): Promise<TestSmtp> {
  const smtp: TestSmtp = { port: 0, received: [], manners: {}, close: async () => {} };
  const server = new SMTPServer({
    disabledCommands: ['STARTTLS', 'AUTH'],
    onRcptTo(_address, _session, done) {
      const { recipient } = smtp.manners;
      done(recipient === undefined ? undefined : fault(recipient));
    },
    onData(stream, _session, done) {
      const parts: Buffer[] = [];
      stream.on('data', (part: Buffer) => parts.push(part));
      stream.on('end', () => {
        smtp.received.push(Buffer.concat(parts).toString('utf8'));
        const { data } = smtp.manners;
        if (data === 'hang-up') server.connections.forEach((connection) => connection.close());
        else done(data === undefined ? undefined : fault(data));
      });
    },
  });
  server.on('error', () => {});
  await new Promise<void>((resolve) => {
    server.listen(0, '127.0.0.1', resolve);
  });
  // Listening on a port, so the address is one with a port.
  smtp.port = (server.server.address() as AddressInfo).port;
  smtp.close = () => new Promise((resolve) => server.close(() => resolve()));
  return smtp;
}

/** A message as a person reads it: header lines joined (RFC 5322, section 2.2.3), quoted-printable undone (RFC 2045, 6.7). */
export function readable(message: string): string {
  const unfolded = message.replaceAll(/\r\n[ \t]+/g, ' ').replaceAll('=\r\n', '');
  const bytes = unfolded.replaceAll(/=([0-9A-F]{2})/g, (_, hex: string) =>
    String.fromCodePoint(Number.parseInt(hex, 16)),
  );
  return Buffer.from(bytes, 'latin1').toString('utf8');
}
