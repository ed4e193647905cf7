/** Name of the job that turns a history row into deliveries; its payload is `{ historyId }`. */
export const WEBHOOK_FAN_OUT = 'webhook.fan-out';
