import sharp from 'sharp';

export type Picture = { name: string; bytes: Buffer };

/** Small real pictures, and bytes that are none or claim to be far larger than they are. */
export async function makePictures(): Promise<Picture[]> {
  const base = () => sharp({ create: { width: 8, height: 6, channels: 3, background: { r: 200, g: 30, b: 30 } } });
  const [jpeg, png, webp] = await Promise.all([
    base()
      .withExif({ IFD3: { GPSLatitude: '52/1 30/1 0/1', GPSLatitudeRef: 'N' } })
      .jpeg()
      .toBuffer(),
    base().png().toBuffer(),
    base().webp().toBuffer(),
  ]);
  return [
    { name: 'jpeg', bytes: jpeg },
    { name: 'png', bytes: png },
    { name: 'webp', bytes: webp },
    { name: 'jpeg cut short', bytes: jpeg.subarray(0, jpeg.length / 2) },
    { name: 'png with something behind', bytes: Buffer.concat([png, Buffer.from('<script>alert(1)</script>')]) },
    { name: 'html', bytes: Buffer.from('<!doctype html><script>alert(1)</script>') },
    { name: 'svg', bytes: Buffer.from('<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>') },
    { name: 'png of 30,000 × 30,000', bytes: withSize(png, 30_000) },
    { name: 'png of 2,147,483,647 × 2,147,483,647', bytes: withSize(png, 2_147_483_647) },
    { name: 'nothing', bytes: Buffer.alloc(0) },
  ];
}

/** Writes another size into the header of a PNG (PNG specification, 11.2.1: width at byte 16, height at 20). */
function withSize(png: Buffer, side: number): Buffer {
  const copy = Buffer.from(png);
  copy.writeUInt32BE(side, 16);
  copy.writeUInt32BE(side, 20);
  // The chunk's checksum covers type and data; readers that check it must still not decode first.
  copy.writeUInt32BE(crc32(copy.subarray(12, 29)), 29);
  return copy;
}

/** CRC-32 as PNG uses it (annex D of its specification). */
function crc32(bytes: Uint8Array): number {
  let crc = 0xff_ff_ff_ff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit += 1) crc = (crc >>> 1) ^ (crc & 1 ? 0xed_b8_83_20 : 0);
  }
  return (crc ^ 0xff_ff_ff_ff) >>> 0;
}
