import { KEY_PROBLEMS, LIMIT_PROBLEMS, SERVER_PROBLEMS } from './problems-server.ts';

/**
 * Every problem this API answers with. `title` and `status` never change for a slug; `cause` and `remedy` are what the
 * page behind the problem's `type` address says.
 */
export const PROBLEMS = {
  'invalid-request': {
    status: 400,
    title: 'The request is not well formed',
    cause: 'A path, query, header or body value has the wrong shape, or a body key is not known.',
    remedy: 'Look at `errors`: each names the place (JSON Pointer) and what is wrong there.',
  },
  'malformed-json': {
    status: 400,
    title: 'The body is not valid JSON',
    cause: 'The body could not be read as JSON, or it was empty where one is needed.',
    remedy: 'Send one JSON value with `Content-Type: application/json`.',
  },
  'malformed-yaml': {
    status: 400,
    title: 'The body is not YAML that can be read',
    cause:
      'The body is not one YAML 1.2 document, or it holds what JSON could not hold: tags, equal keys, keys that are no texts.',
    remedy: 'Look at `errors`: each names line and column in `place`, and what is wrong there. Nothing was changed.',
  },
  'malformed-url': {
    status: 400,
    title: 'The address is not valid',
    cause: 'The path holds a percent escape that cannot be decoded.',
    remedy: 'Encode the path segment as UTF-8 percent escapes.',
  },
  'idempotency-key-required': {
    status: 400,
    title: 'An Idempotency-Key header is needed',
    cause: 'This operation must not happen twice when a request is repeated, so each attempt carries a key.',
    remedy: 'Send `Idempotency-Key: <a new UUID>`, and the same key again when you repeat the request.',
  },
  'cursor-not-valid': {
    status: 400,
    title: 'The cursor is not valid',
    cause: 'The cursor was changed, or it belongs to a list with other filters.',
    remedy: 'Start from the first page, or use `next` exactly as it was given with the same filters.',
  },
  unauthenticated: {
    status: 401,
    title: 'A valid token is needed',
    cause: 'No bearer token was sent, or it is unknown, revoked or expired.',
    remedy: 'Send `Authorization: Bearer <token>`. The organizer mints tokens.',
  },
  forbidden: {
    status: 403,
    title: 'This role may not do that',
    cause: 'The token is valid, but its role does not include this operation.',
    remedy: 'Ask somebody with the named role, or ask the organizer for another token.',
  },
  'conflict-of-interest': {
    status: 403,
    title: 'Not on a car of your own',
    cause: 'You entered this car, or you are named on its entry, so somebody else must decide.',
    remedy: 'Put the ticket back and let another inspector take it.',
  },
  'second-person-needed': {
    status: 403,
    title: 'A second person must decide',
    cause: 'An exception to a safety-critical rule needs two people, and you are the one who granted it.',
    remedy: 'Ask another chief inspector or an organizer to approve it.',
  },
  'not-found': {
    status: 404,
    title: 'There is nothing here',
    cause: 'The address is unknown, or the object does not exist or is not yours to see.',
    remedy: 'Check the address and the id.',
  },
  'method-not-allowed': {
    status: 405,
    title: 'This address does not take that method',
    cause: 'The address exists, but not for this method.',
    remedy: 'Use one of the methods in the `Allow` header.',
  },
  'media-type-not-offered': {
    status: 406,
    title: 'Not offered in that media type',
    cause: 'The `Accept` header names no media type that this operation answers in.',
    remedy: 'Leave `Accept` out for JSON, or name one of the types in `offered`.',
  },
  'state-moved-on': {
    status: 409,
    title: 'The state has moved on',
    cause: 'Somebody or something changed the object, so the operation no longer applies.',
    remedy:
      'Look at `currentState`, read again, and decide anew. `wayOut`, where it is given, names the operation that helps.',
  },
  'event-not-over': {
    status: 409,
    title: 'The event is not over',
    cause: 'The people of an entry are erased once its event is over.',
    remedy: 'Wait for the end in `detail`. For a withdrawn entry send `"force": true` to erase it now.',
  },
  'car-number-taken': {
    status: 409,
    title: 'The car number is taken',
    cause: 'An entry with exactly this car number exists in this run group of this event.',
    remedy: 'Choose another number, or change the existing entry.',
  },
  'car-number-looks-alike': {
    status: 409,
    title: 'The car number looks like another one',
    cause:
      'A car of this event has a number that differs only by zeros, or one that can be taken for this one, and the event does not allow both.',
    remedy: 'Choose another number. `zeroTwins` and `lookAlikes` of the event say what is allowed.',
  },
  'shared-car-differs': {
    status: 409,
    title: 'This number belongs to another car',
    cause: 'One number in two run groups of an event is one shared car, but another vehicle was given.',
    remedy: 'Leave `vehicle` out to share the car, or choose another number.',
  },
  'name-taken': {
    status: 409,
    title: 'The name is taken',
    cause: 'A run group of this event has the same name.',
    remedy: 'Choose another name.',
  },
  'in-use': {
    status: 409,
    title: 'It is in use',
    cause: 'Something depends on what you want to delete, so it must stay.',
    remedy:
      'Look at `uses` and `detail`. What was declared for stays on record; `wayOut`, where it is given, names what helps.',
  },
  'preview-needed': {
    status: 409,
    title: 'Look first at who would change',
    cause:
      'Entrants have declared under the rules of this group, or cars are signed off for the days of this event, and the ' +
      'change would put others in their place.',
    remedy:
      'POST the same change to the address in `preview`, look at the answer, and repeat with its `preview` value.',
  },
  'declarations-closed': {
    status: 409,
    title: 'Declarations are not open',
    cause: 'The declaration window of the event has not opened yet, or it has closed.',
    remedy: 'See `opensAt`, `closesAt` and `wayOut`: once it has closed, ask an inspector at the line.',
  },
  'bar-stands': {
    status: 409,
    title: 'A rule still bars this car',
    cause: 'At least one rule that keeps a car off the track is not met or cannot be answered.',
    remedy: 'See `standing`. Measure again, refuse the car, or ask the chief inspector for a concession.',
  },
  'points-not-checked': {
    status: 409,
    title: 'Points to check are open',
    cause: 'The rules ask the line to look at points that the sign-off does not mention, or that were marked not ok.',
    remedy: 'See `standing`. Give a check for each point, or accept with conditions.',
  },
  'sticker-taken': {
    status: 409,
    title: 'The sticker number is used',
    cause: 'Another sign-off of this event carries the same sticker number.',
    remedy: 'Read the number on the sticker again, or take the next sticker.',
  },
  'last-organizer-token': {
    status: 409,
    title: 'Somebody must stay in charge',
    cause: 'This is the last organizer token that works; without it nobody could mint another.',
    remedy: 'Mint a second organizer token first, then revoke this one.',
  },
  'already-published': {
    status: 409,
    title: 'The draft is published already',
    cause: 'The newest version has exactly the content of this draft.',
    remedy: 'Use the version named in `version`, or change the draft first.',
  },
  'already-retired': {
    status: 409,
    title: 'The version is retired already',
    cause: 'This version of the rule set was retired before. Retiring happens once and is not taken back.',
    remedy:
      'Nothing to do: `retired` says when, by whom and why. To use its rules again, publish them as a new version.',
  },
  'enrolment-used': {
    status: 409,
    title: 'The code was used',
    cause: 'A device was enrolled with this code, and a code works once.',
    remedy: 'Have a new code made. If you do not know that device, have its token revoked at once.',
  },
  'too-many-photos': {
    status: 409,
    title: 'The entry has as many photos as it may have',
    cause: 'One entry may have only so many photos, and so many that were removed again.',
    remedy: 'Remove photos that are not needed, or ask the organizer.',
  },
  'too-many-webhooks': {
    status: 409,
    title: 'There are as many webhooks as there may be',
    cause: 'The server keeps only so many webhooks, because each costs it connections.',
    remedy: 'Remove one that is not needed any more, or change one.',
  },
  'not-sealed': {
    status: 409,
    title: 'That much of the history is not sealed yet',
    cause: 'History is sealed a moment after it is written, and its heads are signed every few seconds.',
    remedy: 'Ask again in a few seconds. For a size, ask for one that the history has.',
  },
  'enrolment-expired': {
    status: 410,
    title: 'The code has ended',
    cause: 'The time to use this code is over, or whoever made it may not enrol any more.',
    remedy: 'Have a new code made and use it in time.',
  },
  'precondition-failed': {
    status: 412,
    title: 'The object was changed meanwhile',
    cause: 'The `If-Match` value is not the current version.',
    remedy:
      'Read the object again (its current version is in the `ETag` header of this answer) and repeat your change.',
  },
  'unsupported-media-type': {
    status: 415,
    title: 'This media type is not understood',
    cause: 'The body was sent in a format that this operation does not read.',
    remedy:
      'Send the media type that the operation documents, in UTF-8. Most take JSON with `Content-Type: application/json`.',
  },
  'answers-not-acceptable': {
    status: 422,
    title: 'Some answers cannot be used',
    cause:
      'An item is unknown, or an answer has the wrong type, an impossible value or a unit that cannot be converted.',
    remedy: 'Look at `errors`: each names the answer (JSON Pointer) and what is wrong with it. Nothing was changed.',
  },
  'rule-set-not-acceptable': {
    status: 422,
    title: 'The rule set has faults',
    cause: 'The static check of the rule set found faults, or an example does not get its verdict.',
    remedy: 'Look at `errors`: each names the place (JSON Pointer). Nothing was published.',
  },
  'not-acceptable': {
    status: 422,
    title: 'The values cannot be used together',
    cause: 'Each value is well formed, but they refer to something that does not exist or contradict each other.',
    remedy: 'Look at `errors`: each names the place (JSON Pointer) and what is wrong.',
  },
  'calculation-refused': {
    status: 422,
    title: 'This cannot be calculated',
    cause:
      'Each value is well formed, but together they cannot be true of a car, a part or a label, or too little is known to give a result that can be relied on.',
    remedy: 'Look at `errors`: each names the value (JSON Pointer) and why it cannot be. Read or measure it again.',
  },
  'photo-not-acceptable': {
    status: 422,
    title: 'This picture cannot be taken',
    cause: 'The picture is damaged, cut off, or has more pixels than this server reads.',
    remedy: 'See `detail`. Take the picture again, or let the telephone make it smaller.',
  },
  'import-not-acceptable': {
    status: 422,
    title: 'The file has bad rows',
    cause: 'A row or the header of the file cannot be used, and the file was to be taken as a whole.',
    remedy:
      'Look at `rows`: each bad row names its columns and what is wrong. Nothing was written. Correct the file, or send it with `partial=true` to write the good rows.',
  },
  'too-heavy': {
    status: 422,
    title: 'This takes too long to check',
    cause: 'Reading or checking what was sent takes more time or memory than one request may have.',
    remedy: 'Send less, in parts, or in a simpler form. Sending the same again ends the same.',
  },
  'idempotency-key-reused': {
    status: 422,
    title: 'The key belongs to another request',
    cause: 'This Idempotency-Key was used before with another body.',
    remedy: 'Use a new key for a new request. To repeat a request, send exactly the same body.',
  },
  ...KEY_PROBLEMS,
  'precondition-required': {
    status: 428,
    title: 'An If-Match header is needed',
    cause: 'People edit this object at the same time, so a change must say which version it starts from.',
    remedy: 'Read the object, then send its `ETag` as `If-Match`.',
  },
  ...LIMIT_PROBLEMS,
  ...SERVER_PROBLEMS,
} as const satisfies Record<string, { status: number; title: string; cause: string; remedy: string }>;

export type ProblemSlug = keyof typeof PROBLEMS;
