/** Why a process cannot start, in one line for who starts it: what is wrong and which setting to change. */
export class StartRefusal extends Error {
  constructor(message: string, options?: ErrorOptions) {
    super(message, options);
    this.name = 'StartRefusal';
  }
}
