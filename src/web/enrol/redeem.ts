import { ApiProblem, call } from '../api/call.ts';
import { redeemEnrolment } from '../api/operations.ts';
import { pinKeysAnew } from '../gate/kept/gate-store.ts';
import { keepStorage } from '../shared/boot.tsx';
import { keepSession, type Page, type Session } from '../shared/session.ts';

export type Refused = 'used' | 'expired' | 'unknown' | 'too-often' | 'network';

export type Redeemed = { ok: true; page: Page; session: Session } | { ok: false; why: Refused };

/** Trades the code for the access of this device and keeps it for the page that goes with the role. */
export async function redeem(code: string): Promise<Redeemed> {
  try {
    const { body } = await call(redeemEnrolment, { body: { code } });
    const session: Session = { token: body.token, role: body.role, holder: body.holder };
    const page = pageOf(body.role);
    keepSession(page, session);
    await prepare(page);
    return { ok: true, page, session };
  } catch (error) {
    return { ok: false, why: whyNot(error) };
  }
}

export function pageOf(role: Session['role']): Page {
  switch (role) {
    case 'marshal':
      return 'gate';
    case 'inspector':
    case 'chief':
      return 'line';
    case 'organizer':
      return 'office';
    case 'entrant':
      return 'garage';
    case 'owner':
      return 'car';
    case 'shop':
      return 'shop';
  }
}

/** What the device shall trust and keep. A gate that could not do it now does it at its first start. */
async function prepare(page: Page): Promise<void> {
  if (page === 'gate') await pinKeysAnew().catch(() => undefined);
  await keepStorage();
}

function whyNot(error: unknown): Refused {
  if (!(error instanceof ApiProblem)) return 'network';
  if (error.problem.code === 'enrolment-used') return 'used';
  if (error.problem.code === 'enrolment-expired') return 'expired';
  if (error.status === 429) return 'too-often';
  return error.status >= 500 ? 'network' : 'unknown';
}
