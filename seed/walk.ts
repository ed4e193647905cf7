/** What the walk needs to know of a demo. */
export interface WalkSummary {
  baseUrl: string;
  eventId: string;
  walkEntryId: string;
  barredEntryId: string;
  tokens: { entrant: string; inspector: string; marshal: string };
  /** new in each run, so that the walk can be repeated */
  once: { submitKey: string; signKey: string; sticker: string };
}

/** The variables of the walk as POSIX shell assignments. */
export function walkEnvironment(summary: WalkSummary): string {
  const { baseUrl, eventId, walkEntryId, barredEntryId, tokens, once } = summary;
  return [
    `BASE=${baseUrl.replace(/\/+$/, '')}/v1`,
    `EVENT=${eventId}`,
    `ENTRY=${walkEntryId}`,
    `BARRED=${barredEntryId}`,
    `ENTRANT=${tokens.entrant}`,
    `INSPECTOR=${tokens.inspector}`,
    `MARSHAL=${tokens.marshal}`,
    `SUBMIT_KEY=${once.submitKey}`,
    `SIGN_KEY=${once.signKey}`,
    `STICKER=${once.sticker}`,
    '',
  ].join('\n');
}

const WALK = String.raw`# 1. The entrant of car 21 submits the declaration that is saved. Verdict and place on the line:
curl -s -X POST "$BASE/entries/$ENTRY/inspections" -H "Authorization: Bearer $ENTRANT" \
  -H "Idempotency-Key: $SUBMIT_KEY" -H 'Content-Type: application/json' -d '{}' |
  grep -Eo '"verdict":"[^"]+"|"ticket":[^}]+}'

# 2. Car 12 is barred. What is wrong with it, and what to do:
curl -s "$BASE/entries/$BARRED/inspections" -H "Authorization: Bearer $INSPECTOR" |
  grep -Eo '"message":"[^"]+","fix":"[^"]+"'

# 3. The inspector claims car 21:
CLAIM=$(curl -s -X POST "$BASE/events/$EVENT/line/claims" -H "Authorization: Bearer $INSPECTOR" \
  -H 'Content-Type: application/json' -d '{"carNumber":"21"}' | sed -n 's/.*"claimId":"\([^"]*\)".*/\1/p')
echo "$CLAIM"

# 4. The inspector looks at the weep that was declared and at what is looked at on every car, measures a pad, and accepts
# with a condition:
curl -s -X POST "$BASE/claims/$CLAIM/sign-off" -H "Authorization: Bearer $INSPECTOR" \
  -H "Idempotency-Key: $SIGN_KEY" -H 'Content-Type: application/json' -d @- <<END |
{ "decision": "accept-with-conditions", "stickerNumber": "$STICKER",
  "checks": [
    { "item": "engine.leaks", "position": "engine-oil", "value": "weep", "note": "damp, no drop" },
    { "item": "pad.thickness", "position": "FL.in", "value": { "value": 9.2, "unit": "mm" } },
    { "item": "belt.condition", "result": "ok" }, { "item": "seat.mounts", "result": "ok" },
    { "item": "seat.condition", "result": "ok" },
    { "item": "helmet.standard", "result": "ok" }, { "item": "brake.pedal", "result": "ok" },
    { "item": "brake.lights", "result": "ok" }, { "item": "wheel.torque", "result": "ok" },
    { "item": "tyre.cords-visible", "result": "ok" }, { "item": "tyre.cuts-or-bulges", "result": "ok" },
    { "item": "engine.leaks", "result": "ok" }, { "item": "battery.secured", "result": "ok" },
    { "item": "body.loose-items", "result": "ok" }, { "item": "body.floor-mats-out", "result": "ok" },
    { "item": "engine.throttle-return", "result": "ok" } ],
  "conditions": [{ "text": "Look at the oil weep again after the first session" }] }
END
  grep -Eo '"clearance":[^}]+}'

# 5. The gate: yes for car 21, no for car 12, and 99 is unknown:
ask() {
  curl -s "$BASE/events/$EVENT/gate/$1" -H "Authorization: Bearer $MARSHAL" |
    grep -Eo '"carNumber":"[^"]*","admit":[a-z]+,"status":"[^"]*","reason":"[^"]*"'
}
ask 21
ask 12
ask 99
`;

/** The walk as commands for a POSIX shell with curl; they use the variables of `walkEnvironment` and nothing else. */
export function walkCommands(): string {
  return WALK;
}
