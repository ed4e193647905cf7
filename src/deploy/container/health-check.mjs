// For the health check of a container: 0 when this process answers on its own port, 1 with the reason when not.
const { PORT = '8080' } = process.env;
try {
  const answer = await fetch(`http://127.0.0.1:${PORT}/healthz`, { signal: AbortSignal.timeout(4000) });
  if (!answer.ok) throw new Error(`status ${answer.status}`);
} catch (error) {
  process.stderr.write(`not well: ${error.cause?.code ?? error.message}\n`);
  process.exitCode = 1;
}
