import { fork } from 'node:child_process';
import { once } from 'node:events';
import { Agent, request as httpRequest } from 'node:http';
import { fileURLToPath } from 'node:url';

/** One request as it goes out. */
export interface LoadRequest {
  method: string;
  url: string;
  headers: Record<string, string>;
  body: string;
}

export interface WriteTimes {
  /** of each answer, milliseconds from the request to the last byte */
  times: number[];
  /** from the first request to the last answer */
  wallMs: number;
  /** statuses of answers that were no success, with the first words of each */
  failed: string[];
  answerBytes: number;
}

export interface WriteLoad {
  /** Each lane is a writer: it sends its requests one after the other, all lanes at the same time. */
  run(lanes: readonly (readonly LoadRequest[])[]): Promise<WriteTimes>;
  stop(): Promise<void>;
}

/** Starts the process that writes, so that asking does not cost the process that answers. */
export function startWriteLoad(): WriteLoad {
  const child = fork(fileURLToPath(import.meta.url), [], { execArgv: [] });
  return {
    async run(lanes) {
      child.send(lanes);
      const [result] = (await once(child, 'message')) as [WriteTimes];
      return result;
    },
    async stop() {
      const ended = once(child, 'exit');
      child.disconnect();
      await ended;
    },
  };
}

const agent = new Agent({ keepAlive: true, maxSockets: 256 });

function send({ method, url, headers, body }: LoadRequest): Promise<{ status: number; text: string }> {
  return new Promise((resolve, reject) => {
    const length = String(Buffer.byteLength(body));
    const sent = httpRequest(url, { method, agent, headers: { ...headers, 'content-length': length } }, (answer) => {
      const parts: Buffer[] = [];
      answer.on('data', (part: Buffer) => parts.push(part));
      answer.on('end', () => resolve({ status: answer.statusCode ?? 0, text: Buffer.concat(parts).toString('utf8') }));
      answer.on('error', reject);
    });
    sent.on('error', reject);
    sent.end(body);
  });
}

async function runLanes(lanes: readonly (readonly LoadRequest[])[]): Promise<WriteTimes> {
  const result: WriteTimes = { times: [], wallMs: 0, failed: [], answerBytes: 0 };
  const from = performance.now();
  await Promise.all(
    lanes.map(async (lane) => {
      for (const one of lane) {
        const started = performance.now();
        const { status, text } = await send(one);
        result.times.push(performance.now() - started);
        result.answerBytes = text.length;
        if (status >= 300) result.failed.push(`${status} ${text.slice(0, 300)}`);
      }
    }),
  );
  result.wallMs = performance.now() - from;
  return result;
}

if (process.send !== undefined && process.argv[1] === fileURLToPath(import.meta.url)) {
  process.on('message', (lanes: LoadRequest[][]) => {
    void runLanes(lanes).then((result) => process.send?.(result));
  });
}
