import { useState } from 'preact/hooks';

/** What is typed into a form: all values, one setter per name, and all at once. */
export function useValues<T extends Readonly<Record<string, string>>>(first: T) {
  const [values, setValues] = useState(first);
  const set =
    (name: keyof T) =>
    (value: string): void =>
      setValues((old) => ({ ...old, [name]: value }));
  return { values, set, reset: (next: T = first) => setValues(next) };
}

/** Undefined for a field that was left empty. */
export const given = (value: string): string | undefined => (value.trim() === '' ? undefined : value.trim());
