import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { entryParams } from '../../http/frame/common-schemas.ts';
import { addRoute } from '../../http/frame/route.ts';
import { addDays } from '../../domain/calendar.ts';
import { notFound } from '../../http/frame/problem.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { tallyOfRow } from '../../records/judging/inspections.ts';
import { eraseEntry } from './erase.ts';
import { ERASED_EXAMPLE, ErasedEntry, EraseEntry, PERSONAL_DATA_EXAMPLE, PersonalData } from './schemas.ts';
import { type Everything, findEverything } from './store.ts';

const iso = (instant: Date) => instant.toISOString();
const isoOrNull = (instant: Date | null) => instant?.toISOString() ?? null;
const day = (date: Date) => date.toISOString().slice(0, 10);

/**
 * Everything about the people of an entry, as of one moment. Whoever else acted appears by role only.
 *
 * @throws ProblemError `not-found`
 */
async function exportPersonalData(deps: Deps, entryId: string): Promise<PersonalData> {
  const all = await inTransaction(deps.db.prisma, (tx) => findEverything(tx, entryId), {
    isolationLevel: 'RepeatableRead',
  });
  if (all === undefined) throw notFound('entry');
  return {
    exportedAt: iso(deps.clock.now()),
    ...entryPart(all),
    declarations: declarations(all),
    decisions: decisions(all),
    history: history(all),
    tokens: all.tokens.map(({ id, holder, createdAt, expiresAt, revokedAt }) => ({
      tokenId: id,
      holder,
      createdAt: iso(createdAt),
      expiresAt: isoOrNull(expiresAt),
      revokedAt: isoOrNull(revokedAt),
    })),
    shops: shops(all),
    photos: photos(all),
    log: log(all),
    notifications: all.notifications.map(({ kind, transport, createdAt, sentAt }) => ({
      kind,
      transport,
      createdAt: iso(createdAt),
      sentAt: isoOrNull(sentAt),
    })),
    mails: all.mails.map(({ kind, language, address, subject, text, state, createdAt, endedAt }) => ({
      kind,
      language,
      address,
      subject,
      // a link that waits to be sent is a key
      text: text.replaceAll(/#gw_[\w-]+/g, '#…'),
      state,
      createdAt: iso(createdAt),
      endedAt: isoOrNull(endedAt),
    })),
    mailsStoppedAt: isoOrNull(all.mailStop?.stoppedAt ?? null),
    gateLookups: all.gateChecks.map(({ askedAt, admit, status }) => ({ at: iso(askedAt), admit, status })),
  };
}

function entryPart(all: Everything) {
  const { event } = all;
  return {
    event: {
      eventId: event.id,
      name: event.name,
      timeZone: event.venue.timeZone,
      startsOn: day(event.startsOn),
      endsOn: day(event.endsOn),
      retentionDays: event.retentionDays,
      erasedFrom: addDays(day(event.endsOn), event.retentionDays + 1),
    },
    entry: {
      entryId: all.id,
      carNumber: all.carNumber,
      runGroup: all.runGroup.name,
      // written by us only, from typed values
      entrant: all.entrant as PersonalData['entry']['entrant'],
      people: all.people as PersonalData['entry']['people'],
      vehicle: all.vehicle.record,
      createdAt: iso(all.createdAt),
      erasedAt: isoOrNull(all.erasedAt),
    },
    draft: all.draft === null ? null : { answers: all.draft.answers, updatedAt: iso(all.draft.updatedAt) },
  };
}

function declarations({ inspections, tokens }: Everything): PersonalData['declarations'] {
  const own = new Set(tokens.map((token) => token.id));
  return inspections.map((row) => ({
    inspectionId: row.id,
    revision: row.revision,
    cause: row.cause,
    submittedAt: iso(row.submittedAt),
    submittedBy: own.has(row.submittedBy) ? { role: 'entrant', name: row.submittedName } : { role: 'staff' },
    answers: row.answers,
    vehicle: row.vehicle,
    verdict: row.verdict,
    tally: tallyOfRow(row),
    findings: row.findings,
  }));
}

function decisions({ signOffs, conditions, holds, concessions }: Everything): PersonalData['decisions'] {
  return {
    signOffs: signOffs.map((row) => ({
      inspectionId: row.inspectionId,
      signedAt: iso(row.signedAt),
      decision: row.decision,
      checks: row.checks,
      note: row.note,
      stickerNumber: row.stickerNumber,
      validFrom: isoOrNull(row.validFrom),
      validUntil: isoOrNull(row.validUntil),
    })),
    conditions: conditions.map(({ text, dueAt, doneAt, doneNote }) => ({
      text,
      dueAt: isoOrNull(dueAt),
      doneAt: isoOrNull(doneAt),
      doneNote,
    })),
    holds: holds.map(({ reason, placedAt, liftedAt, liftReason }) => ({
      reason,
      placedAt: iso(placedAt),
      liftedAt: isoOrNull(liftedAt),
      liftReason,
    })),
    concessions: concessions.map(({ ruleId, reason, condition, grantedAt, expiresAt, revokedAt }) => ({
      ruleId,
      reason,
      condition,
      grantedAt: iso(grantedAt),
      expiresAt: iso(expiresAt),
      revokedAt: isoOrNull(revokedAt),
    })),
  };
}

function history(all: Everything): PersonalData['history'] {
  return all.history.map(({ seq, at, action, actorRole, actorName, data }) => ({
    seq,
    at: iso(at),
    action,
    actor: actorRole === 'entrant' ? { role: actorRole, name: actorName } : { role: actorRole },
    data,
  }));
}

function photos(all: Everything): PersonalData['photos'] {
  return all.photos.map((row) => ({
    photoId: row.id,
    item: row.itemKey,
    position: row.position,
    mediaType: row.mediaType,
    width: row.width,
    height: row.height,
    bytes: row.bytes,
    contentHash: row.contentHash,
    uploadedAt: iso(row.uploadedAt),
    uploadedBy:
      row.uploadedRole === 'entrant' ? { role: row.uploadedRole, name: row.uploadedName } : { role: row.uploadedRole },
    removedAt: isoOrNull(row.removedAt),
  }));
}

/** The shops by the name that the owner wrote down; who signed there appears by the day only. */
function shops({ shopLinks }: Everything): PersonalData['shops'] {
  return shopLinks.map(({ shopName, areas, createdAt, takenAt, endedAt, answers, signatures }) => ({
    shop: shopName,
    areas,
    createdAt: iso(createdAt),
    takenAt: isoOrNull(takenAt),
    endedAt: isoOrNull(endedAt),
    unsigned: answers,
    signed: signatures.map((one) => ({ signedAt: iso(one.signedAt), answers: one.answers })),
  }));
}

function log(all: Everything): PersonalData['log'] {
  return all.log.map((row) => ({
    logId: row.id,
    kind: row.kind,
    session: row.session,
    at: iso(row.at),
    content: row.content,
    writtenAt: iso(row.writtenAt),
    writtenBy:
      row.writtenRole === 'entrant' ? { role: row.writtenRole, name: row.writtenName } : { role: row.writtenRole },
  }));
}

/** Personal data: what is on record about the people of an entry, and its erasure. */
export async function personalDataRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/entries/:entryId/personal-data',
    operationId: 'exportPersonalData',
    summary: 'Read everything on record about the people of an entry',
    description: 'One document. Inspectors and other staff appear by role, not by name.',
    tag: 'Personal data',
    access: ['organizer', 'entrant'],
    params: entryParams,
    success: {
      200: {
        description: 'Everything on record',
        schema: PersonalData,
        headers: { 'Content-Disposition': 'A name for the file' },
        example: PERSONAL_DATA_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params }) => {
      const body = await exportPersonalData(deps, params.entryId);
      const headers = { 'content-disposition': `attachment; filename="entry-${body.entry.carNumber}.json"` };
      return { status: 200, body, headers };
    },
  });
  addRoute(app, {
    method: 'POST',
    path: '/entries/:entryId/erase',
    operationId: 'eraseEntry',
    summary: 'Erase the people of an entry',
    description:
      'Once the event is over: names, addresses and numbers are gone for good, tokens of the entry stop working, its ' +
      'photos are removed. Declarations, findings, decisions and the history stay, without the person. Erasing again ' +
      'answers the same. The server does it by itself `retentionDays` after the last event day.',
    tag: 'Personal data',
    access: ['organizer'],
    params: entryParams,
    body: EraseEntry,
    bodyExample: { reason: 'Asked for by the entrant' },
    success: { 200: { description: 'Erased', schema: ErasedEntry, example: ERASED_EXAMPLE } },
    problems: ['not-found', 'event-not-over'],
    handle: async ({ params, body, actor, request }) => ({
      status: 200,
      body: await eraseEntry(deps, actor, {
        entryId: params.entryId,
        reason: body.reason,
        force: body.force === true,
        requestId: request.id,
      }),
    }),
  });
}
