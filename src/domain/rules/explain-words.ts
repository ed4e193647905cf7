import type { ExplainedInput } from './explain-inputs.ts';
import { readingText, shortList, valueText } from './explain-values.ts';
import type { Finding } from './finding.ts';
import type { Test } from './test-schema.ts';

/** What a driver is told of one finding. */
export interface Told {
  finding: Finding;
  kind: Test['kind'];
  /** what is asked for, in words, without a full stop */
  text: string;
  inputs: readonly ExplainedInput[];
  /** why the condition of the rule has no answer */
  conditionUnknown: boolean;
  stage: 'declaration' | 'line';
  /** what the inspector saw there and marked not ok */
  seenNotOk: boolean;
}

const WORDS: readonly (readonly [RegExp, string])[] = [
  [/^spread ≤ /u, 'a difference of at most '],
  [/^≥ /u, 'at least '],
  [/^≤ /u, 'at most '],
  [/^> /u, 'more than '],
  [/^< /u, 'less than '],
  [/^= /u, 'exactly '],
];

/** `≥ 4 mm` as `at least 4 mm`. */
function limitWords(limit: string): string {
  const known = WORDS.find(([sign]) => sign.test(limit));
  return known === undefined ? shortList(limit) : limit.replace(known[0], known[1]);
}

const sentence = (text: string): string => {
  const trimmed = text.trim();
  return `${trimmed.charAt(0).toUpperCase()}${trimmed.slice(1)}${/[.!?]$/u.test(trimmed) ? '' : '.'}`;
};

/** `you declared 4.8 mm (3/16 in as written)`: the conversion shows only where there was one. */
function givenWords({ finding, inputs }: Told): string {
  const [only, more] = inputs;
  const reading = finding.measured === undefined ? '' : readingText(finding.measured);
  if (only === undefined || more !== undefined || only.value === undefined) return `it comes to ${reading}`;
  const who = only.by === 'inspector' ? 'the inspector measured' : 'you declared';
  const judged = valueText(only.value, only.unit);
  const written = only.sentText === judged ? '' : ` (${only.sentText} as written)`;
  if (reading.startsWith(judged)) return `${who} ${reading}${written}`;
  return `${who} ${judged}${written}, which comes to ${reading}`;
}

function whatWasJudged(told: Told): string {
  const { finding, inputs, kind } = told;
  const at = finding.position === undefined ? '' : ` at ${finding.position}`;
  const [only] = inputs;
  const titled = `${finding.title}${at}`;
  if (told.conditionUnknown)
    return sentence(`${titled}: whether the rule applies could not be told. ${finding.message}`);
  if (finding.result === 'unanswerable') return sentence(`${titled}: ${finding.message}`);
  const head = inputs.length === 1 && only !== undefined ? `${only.label.replace(/\?$/u, '')}${at}` : titled;
  if (finding.measured === undefined || finding.limit === undefined) return sentence(`${head}: ${told.text}`);
  if (kind === 'photo')
    return sentence(`${head}: ${readingText(finding.measured)} sent, ${limitWords(finding.limit)} asked for`);
  return sentence(`${head}: ${givenWords(told)}; asked for is ${limitWords(finding.limit)}`);
}

function whatItMeans({ finding, seenNotOk }: Told): string {
  if (finding.result === 'met') return 'That is as it must be.';
  const seen = seenNotOk ? 'The inspector looked and marked it not ok. ' : '';
  return finding.result === 'unanswerable' ? '' : seen + sentence(finding.message);
}

const MEANS = {
  bar: 'The car may not go on track like this. ',
  inspect: 'The line will look at it. ',
  advise: 'This is advice and keeps no car off the track. ',
  no: '',
} as const;

function whatToDo({ finding, stage }: Told): string {
  if (finding.watched) return 'The rule is only on trial here: it judges nobody.';
  if (finding.result === 'met') return '';
  const conceded =
    finding.conceded === undefined ? '' : `A concession covers this until ${finding.conceded.expiresAt}. `;
  const means = finding.fix.startsWith(MEANS[finding.counts].trim()) ? '' : MEANS[finding.counts];
  if (finding.result !== 'unanswerable') return sentence(`${conceded}${means}${finding.fix}`);
  const forInspector = finding.effect === 'bar' && finding.counts === 'inspect' && finding.conceded === undefined;
  const again = stage === 'line' || forInspector ? '' : 'Give what is missing and submit the declaration again.';
  return sentence(`${conceded}${MEANS[finding.counts]}${again}`);
}

/** Two or three plain sentences for the driver: what was asked and given, what that means, what to do. */
export function inWords(told: Told): string {
  return [whatWasJudged(told), whatItMeans(told), whatToDo(told)].filter((part) => part !== '').join(' ');
}
