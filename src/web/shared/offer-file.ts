/** How long a file stays at hand after it was offered: the download has its own hold on it once it began. */
const AT_HAND_MS = 60_000;

/** Hands a file to whatever opens or keeps such files on this device. */
export function offerFile(file: Blob, name: string): void {
  const address = URL.createObjectURL(file);
  const link = document.createElement('a');
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), AT_HAND_MS);
}
