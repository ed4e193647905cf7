import { Readable } from 'node:stream';
import MailComposer from 'nodemailer/lib/mail-composer';
import SMTPConnection from 'nodemailer/lib/smtp-connection';

/** The server that takes mail, and who it is from. */
export interface SmtpSettings {
  host: string;
  port: number;
  /** TLS from the first byte; otherwise STARTTLS (RFC 3207) is demanded, unless `plain` */
  secure: boolean;
  /** text in the clear is allowed: for a relay on the same machine */
  plain: boolean;
  user: string | undefined;
  password: string | undefined;
  from: string;
  replyTo: string | undefined;
}

export interface OutgoingMail {
  /** the same at every try, so that whoever gets it twice can tell (RFC 5322, section 3.6.4) */
  messageId: string;
  to: string;
  subject: string;
  text: string;
  html: string;
  language: string;
  /** where somebody ends these messages by one request (RFC 8058); absent: nobody could reach it */
  stopUrl: string | undefined;
}

/**
 * What came of the conversation. `sent`: the server took it. `refused`: it said no for good. `later`: not now, or there was no
 * conversation. `doubt`: the whole message had gone and no answer came (RFC 5321, section 4.5.3.2.6): it may arrive.
 */
export type Sent = { outcome: 'sent' | 'refused' | 'later' | 'doubt'; reply: string };

const TIMES = { connectionTimeout: 15_000, greetingTimeout: 15_000, socketTimeout: 60_000 };
const MOST_REPLY = 500;

/** Headers by which other programs do not answer (RFC 3834, section 5). */
const AUTOMATIC = { 'Auto-Submitted': 'auto-generated' };

async function compose(mail: OutgoingMail, { from, replyTo }: SmtpSettings): Promise<Buffer> {
  const stop = mail.stopUrl;
  const composer = new MailComposer({
    from,
    ...(replyTo === undefined ? {} : { replyTo }),
    to: mail.to,
    subject: mail.subject,
    text: mail.text,
    html: mail.html,
    messageId: mail.messageId,
    // Nothing in a text of ours may make the server read a file or fetch an address.
    disableFileAccess: true,
    disableUrlAccess: true,
    headers: {
      ...AUTOMATIC,
      'Content-Language': mail.language,
      ...(stop === undefined
        ? {}
        : { 'List-Unsubscribe': `<${stop}>`, 'List-Unsubscribe-Post': 'List-Unsubscribe=One-Click' }),
    },
  });
  return composer.compile().build();
}

/** The bare address of `Name <address>`. */
export const addressIn = (from: string): string => /<([^<>]+)>\s*$/.exec(from)?.[1]?.trim() ?? from.trim();

interface SmtpFault {
  message: string;
  /** of the server's answer; absent: there was none */
  responseCode?: number | undefined;
  response?: string | undefined;
}

function judge({ message, responseCode, response }: SmtpFault, isAllGone: boolean): Sent {
  const reply = (response ?? message).slice(0, MOST_REPLY);
  if (responseCode !== undefined && responseCode >= 500) return { outcome: 'refused', reply };
  if (responseCode !== undefined && responseCode >= 400) return { outcome: 'later', reply };
  return { outcome: isAllGone ? 'doubt' : 'later', reply };
}

/** Sends one message in a conversation of its own. Never throws: whatever goes wrong is an outcome. */
export async function sendBySmtp(settings: SmtpSettings, mail: OutgoingMail): Promise<Sent> {
  const bytes = await compose(mail, settings);
  const { host, port, secure, plain, user, password } = settings;
  const connection = new SMTPConnection({
    host,
    port,
    secure,
    requireTLS: !secure && !plain,
    ignoreTLS: plain,
    ...TIMES,
  });
  return new Promise((resolve) => {
    let isAllGone = false;
    const end = (sent: Sent): void => {
      connection.close();
      resolve(sent);
    };
    const fail = (error: unknown): void => end(judge(error as SmtpFault, isAllGone));
    // A server that closes the connection is told here, also in the middle of the message.
    connection.on('error', fail);
    // Also said after every answer, just before whoever asked is told it: the answer goes first.
    connection.on('end', () => setImmediate(fail, { message: 'the connection was closed' }));
    const send = (): void => {
      const message = Readable.from([bytes]);
      message.on('end', () => {
        isAllGone = true;
      });
      connection.send({ from: addressIn(settings.from), to: [mail.to] }, message, (error, info) => {
        if (error !== null && error !== undefined) return fail(error);
        // Taken is taken: how the goodbye goes changes nothing.
        connection.quit();
        resolve({ outcome: 'sent', reply: (info?.response ?? '').slice(0, MOST_REPLY) });
      });
    };
    connection.connect((error) => {
      if (error !== null && error !== undefined) return fail(error);
      if (user === undefined) return send();
      connection.login({ user, pass: password }, (refused) =>
        refused === null || refused === undefined ? send() : fail(refused),
      );
    });
  });
}
