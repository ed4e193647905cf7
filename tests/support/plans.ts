import pg from 'pg';

/** A step of a plan as PostgreSQL tells it, with what it did. Only what is looked at here. */
export interface PlanNode {
  'Node Type': string;
  'Relation Name'?: string;
  'Index Name'?: string;
  'Index Cond'?: string;
  'Actual Rows'?: number;
  'Actual Loops'?: number;
  'Rows Removed by Filter'?: number;
  'Shared Hit Blocks'?: number;
  'Shared Read Blocks'?: number;
  Plans?: PlanNode[];
}

/** One statement that ran, with the plan it ran by. What triggers and foreign keys sent is one of its own. */
export interface RanStatement {
  text: string;
  plan: PlanNode;
  /** pages of tables and indexes that it looked at */
  buffers: number;
}

/** What was sent since the last look. */
export interface Ran {
  /** how many statements were sent, `BEGIN` and `COMMIT` among them */
  sent: number;
  /** all that ran for them and told its plan */
  statements: RanStatement[];
}

export interface PlanWatch {
  take(): Ran;
  stop(): void;
}

const SETTINGS = {
  session_preload_libraries: 'auto_explain',
  'auto_explain.log_min_duration': '0',
  'auto_explain.log_analyze': 'on',
  'auto_explain.log_buffers': 'on',
  // The clock is asked twice a row otherwise.
  'auto_explain.log_timing': 'off',
  'auto_explain.log_format': 'json',
  'auto_explain.log_nested_statements': 'on',
  // Sent to whoever sent the statement.
  'auto_explain.log_level': 'notice',
};

/**
 * The address of a database, for connections on which every statement tells its plan. The server must have PostgreSQL's own
 * module for it, and the user must be allowed to load it; the embedded one has both.
 *
 * @param more settings of those connections
 */
export function explained(url: string, more: Readonly<Record<string, string>> = {}): string {
  const address = new URL(url);
  const options = Object.entries({ ...SETTINGS, ...more }).map(([name, value]) => `-c ${name}=${value}`);
  address.searchParams.set('options', options.join(' '));
  return address.href;
}

const TOLD = /^duration: [\d.]+ ms {2}plan:\n/;

const buffersOf = (plan: PlanNode): number => (plan['Shared Hit Blocks'] ?? 0) + (plan['Shared Read Blocks'] ?? 0);

/**
 * Listens to what every connection tells that this process opens from now on by an `explained` address, whichever pool it
 * belongs to.
 */
export function watchPlans(): PlanWatch {
  let ran: Ran = { sent: 0, statements: [] };
  const { prototype } = pg.Client;
  const { connect, query } = prototype;
  prototype.connect = function heard(this: pg.Client, ...args: unknown[]) {
    this.on('notice', ({ message = '' }) => {
      if (!TOLD.test(message)) return;
      // the module writes this form
      const told = JSON.parse(message.replace(TOLD, '')) as { 'Query Text': string; Plan: PlanNode };
      ran.statements.push({ text: told['Query Text'], plan: told.Plan, buffers: buffersOf(told.Plan) });
    });
    return Reflect.apply(connect, this, args);
  };
  prototype.query = function counted(this: pg.Client, ...args: unknown[]) {
    ran.sent += 1;
    return Reflect.apply(query, this, args);
  };
  return {
    take() {
      const taken = ran;
      ran = { sent: 0, statements: [] };
      return taken;
    },
    stop: () => void Object.assign(prototype, { connect, query }),
  };
}

/** Every step of a plan. */
export function* stepsOf(plan: PlanNode): Generator<PlanNode> {
  yield plan;
  for (const below of plan.Plans ?? []) yield* stepsOf(below);
}
