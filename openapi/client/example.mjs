// Who is not ready yet, with a reason for each, of one event:
//   ADDRESS=https://tech.example.org TOKEN=… EVENT=… node example.mjs
// A token of an organizer reads lists; the ids of events are in the office's address bar and in `listEvents`.
import { ApiProblem, listEntries, openClient } from 'gridworthy-client';

const { ADDRESS = 'http://127.0.0.1:8080', TOKEN, EVENT = '' } = process.env;
const client = openClient({ address: ADDRESS, ...(TOKEN === undefined ? {} : { token: TOKEN }) });
const say = (line) => process.stdout.write(`${line}\n`);

try {
  let ready = 0;
  for await (const { body } of client.pages(listEntries, { params: { eventId: EVENT }, query: { limit: 100 } })) {
    for (const { carNumber, runGroup, clearance } of body.entries) {
      if (clearance.admit) ready += 1;
      else say(`${carNumber} (${runGroup}): ${clearance.status}. ${clearance.reason}`);
    }
  }
  // What the gate says is one input to the marshal's decision; this list is older than its answer.
  say(`ready: ${ready}`);
} catch (error) {
  if (!(error instanceof ApiProblem)) throw error;
  process.stderr.write(`${error.problem.code}: ${error.message} (request ${error.problem.requestId})\n`);
  process.exitCode = 1;
}
