// For the health check of a container: 0 when this process answers on its own port, 1 with the reason when not.
const { ROLE, PORT = '8080', WORKER_PORT } = process.env;
const port = ROLE === 'worker' ? WORKER_PORT : PORT;
try {
  const answer = await fetch(`http://127.0.0.1:${port}/healthz`, { signal: AbortSignal.timeout(4000) });
  if (!answer.ok) throw new Error(`status ${answer.status}`);
} catch (error) {
  process.stderr.write(`not well: ${error.cause?.code ?? error.message}\n`);
  process.exitCode = 1;
}
