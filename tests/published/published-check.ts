/**
 * One published value that ours is held against. `ours` is run by the test and by `npm run check:published`, which
 * prints the table.
 */
export interface PublishedCheck {
  /** short and unique: `tyre-pressure: 30 psi, 20 to -25 °C` */
  name: string;
  /** what the source says; for a negative check the wrong value that must not come out */
  published: number | string;
  ours: () => number | string;
  /** largest absolute difference allowed; absent: exact */
  tolerance?: number;
  /** the published value is wrong: ours must differ by more than `tolerance` */
  wrong?: true;
  unit?: string;
  /** publication and section, and how it is known: regulation read, secondary source, arithmetic derived */
  source: string;
}
