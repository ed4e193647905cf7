/** What goes into an operation and what comes out, by HTTP status. */
export interface Shape {
  params: Readonly<Record<string, string | number>> | undefined;
  query: object | undefined;
  headers: object | undefined;
  body: unknown;
  answers: Readonly<Record<number, unknown>>;
}

/** One operation of the API. The shape exists for the compiler only. */
export interface Operation<S extends Shape> {
  method: 'GET' | 'POST' | 'PUT' | 'PATCH' | 'DELETE';
  /** with `{name}` where a parameter goes */
  path: string;
  shape?: S;
}
