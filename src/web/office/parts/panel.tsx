import type { ComponentChildren } from 'preact';
import { useId, useLayoutEffect, useRef } from 'preact/hooks';
import { ApiProblem, Unreachable } from '../../api/call.ts';
import { leave } from '../../shared/access.tsx';
import { type LiftPoint, openPointsIn } from '../../shared/holds/lift.tsx';
import { words } from '../../shared/text.ts';
import type { Load } from './office-context.ts';

/** One part of a section, under a heading of its own. */
export function Panel({ title, children }: { title: string; children: ComponentChildren }) {
  const id = useId();
  return (
    <section class="panel stack" aria-labelledby={id}>
      <h3 id={id}>{title}</h3>
      {children}
    </section>
  );
}

interface TableProps {
  /** name of the table, read and shown above it */
  caption: string;
  head: readonly ComponentChildren[];
  children: ComponentChildren;
}

/**
 * A table that scrolls sideways within itself where it does not fit, also by keyboard. On a phone each row stands as a card:
 * what is at the right end, a telephone number say, would otherwise be out of sight.
 */
export function Table({ caption, head, children }: TableProps) {
  const body = useRef<HTMLTableSectionElement>(null);
  useLayoutEffect(() => {
    const names = [...(body.current?.parentElement?.querySelectorAll('thead th') ?? [])].map((one) => one.textContent);
    for (const { cells } of body.current?.rows ?? []) {
      for (const [index, cell] of [...cells].entries()) cell.dataset['label'] = names[index] ?? '';
    }
  });
  return (
    <div class="scroll" role="region" aria-label={caption} tabIndex={0}>
      <table>
        <caption>{caption}</caption>
        <thead>
          <tr>
            {head.map((cell, index) => (
              <th key={index} scope="col">
                {cell}
              </th>
            ))}
          </tr>
        </thead>
        <tbody ref={body}>{children}</tbody>
      </table>
    </div>
  );
}

/** What was read; until then that it is being read, and beside it that it could not be read anew. */
export function Loaded<T>({ of, children }: { of: Load<T>; children(data: T): ComponentChildren }) {
  const { data, trouble, reload } = of;
  return (
    <>
      {trouble !== undefined && (
        <div class="stack">
          <TroubleBox trouble={trouble} />
          <div class="row">
            <button type="button" onClick={reload}>
              {words.t('retry')}
            </button>
          </div>
        </div>
      )}
      {data === undefined && trouble === undefined && <p role="status">{words.t('loading')}</p>}
      {data !== undefined && children(data)}
    </>
  );
}

/** Why something did not work: in one sentence, then every fault. */
export function TroubleBox({ trouble }: { trouble: Trouble }) {
  const { message, faults, status } = trouble;
  const said = faults.filter(({ detail }) => detail !== message);
  return (
    <div class="notice bad stack" role="alert" tabIndex={-1}>
      <p>{message}</p>
      {said.length > 0 && (
        <ul>
          {said.map(({ pointer, detail }) => (
            <li key={`${pointer} ${detail}`}>
              <code>{pointer}</code> {detail}
            </li>
          ))}
        </ul>
      )}
      {status === 401 && (
        <div class="row">
          <button type="button" onClick={() => leave('office')}>
            {words.t('session.leave')}
          </button>
        </div>
      )}
    </div>
  );
}

/** One fault that the server named. `latestEnd` stands beside an end that is too late. */
interface Fault {
  pointer: string;
  code: string;
  detail: string;
  latestEnd?: string;
}

/** Why something did not work, in words for the screen. */
export interface Trouble {
  message: string;
  /** of the answer; undefined without one */
  status: number | undefined;
  /** of what was refused, with 412 */
  etag: string | undefined;
  faults: readonly Fault[];
  /** points that were not looked at, where it is about them */
  open: readonly LiftPoint[];
}

export function troubleOf(error: unknown): Trouble {
  if (error instanceof ApiProblem) {
    const { status, etag, problem } = error;
    const message = status === 401 ? words.t('session.refused') : problem.detail;
    return { message, status, etag, faults: problem.errors ?? [], open: openPointsIn(problem) };
  }
  const message =
    error instanceof Unreachable ? words.t('network.none') : words.t('problem.unexpected', { detail: String(error) });
  return { message, status: undefined, etag: undefined, faults: [], open: [] };
}

/** What is wrong with the value at a place, and with what is inside it. */
export function faultsAt(trouble: Trouble | undefined, pointer: string): readonly Fault[] {
  const within = `${pointer}/`;
  return (trouble?.faults ?? []).filter((fault) => fault.pointer === pointer || fault.pointer.startsWith(within));
}
