import { useState } from 'preact/hooks';
import type { Desk } from '../parts/desk.ts';
import { Enrol } from './enrol.tsx';
import { LinkSheet } from './link-sheet.tsx';
import { Mint } from './mint.tsx';
import { Tokens } from './tokens.tsx';

/** Who may do what: codes for devices, links for entrants, and all that was given out. */
export function Access({ desk }: { desk: Desk }) {
  const [minted, setMinted] = useState(0);
  const organizer = desk.session.role === 'organizer';
  const again = (): void => setMinted((count) => count + 1);
  return (
    <>
      <Enrol desk={desk} />
      {organizer && (
        <>
          <Mint desk={desk} onMinted={again} />
          <LinkSheet desk={desk} onMinted={again} />
          <Tokens desk={desk} round={minted} />
        </>
      )}
    </>
  );
}
