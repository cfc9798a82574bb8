// Reads the GLB made by viewer/web/glb.py: one buffer, no transforms, plain accessors.

const ARRAYS = { 5121: Uint8Array, 5123: Uint16Array, 5125: Uint32Array, 5126: Float32Array };
const WIDTHS = { SCALAR: 1, VEC2: 2, VEC3: 3, VEC4: 4 };

export function bytesOf(base64) {
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  return bytes;
}

// [{mode, extras, index, attributes: {POSITION, _STATION, ...}}, ...]
export function readGlb(bytes) {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const jsonLength = view.getUint32(12, true);
  const json = JSON.parse(new TextDecoder().decode(bytes.subarray(20, 20 + jsonLength)));
  const data = 28 + jsonLength;
  const array = (number) => {
    const accessor = json.accessors[number];
    const slot = json.bufferViews[accessor.bufferView];
    const kind = ARRAYS[accessor.componentType];
    const count = accessor.count * WIDTHS[accessor.type];
    const start = data + (slot.byteOffset || 0) + (accessor.byteOffset || 0);
    // a copy starts at a multiple of its own size, whatever stands before it
    return new kind(bytes.slice(start, start + count * kind.BYTES_PER_ELEMENT).buffer);
  };
  const meshes = [];
  for (const mesh of json.meshes) {
    for (const primitive of mesh.primitives) {
      const attributes = {};
      for (const [name, number] of Object.entries(primitive.attributes)) {
        attributes[name] = array(number);
      }
      const index = primitive.indices === undefined ? null : array(primitive.indices);
      meshes.push({ mode: primitive.mode, extras: mesh.extras || {}, index, attributes });
    }
  }
  return meshes;
}

// Middle of every ring of every tube, in route order, with the numbers it carries:
// {count, xyz, station, tension: [a, b], sidewall: [a, b], utilization: [a, b], breaks}.
// `breaks` holds the samples that begin a tube of their own.
export function centerline(tubes) {
  const rings = tubes.reduce((sum, tube) => sum + tube.extras.rings, 0);
  const line = { count: rings, xyz: new Float32Array(3 * rings), breaks: new Set() };
  line.station = new Float32Array(rings);
  const names = ["tension", "sidewall", "utilization"];
  for (const name of names) line[name] = [0, 1].map(() => new Float32Array(rings));
  let at = 0;
  for (const tube of tubes) {
    const { sides } = tube.extras;
    const position = tube.attributes.POSITION;
    line.breaks.add(at);
    for (let ring = 0; ring < tube.extras.rings; ring++, at++) {
      const first = ring * sides;
      for (let axis = 0; axis < 3; axis++) {
        let sum = 0;
        for (let k = 0; k < sides; k++) sum += position[3 * (first + k) + axis];
        line.xyz[3 * at + axis] = sum / sides;
      }
      line.station[at] = tube.attributes._STATION[first];
      for (const name of names) {
        for (const n of [0, 1]) {
          line[name][n][at] = tube.attributes[`_${name.toUpperCase()}_${n}`][first];
        }
      }
    }
  }
  return line;
}

// Sample before a station and how far past it, 0 to 1; the later side of a joint.
export function locate(line, station) {
  let low = 0;
  let high = line.count - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (line.station[middle] <= station) low = middle;
    else high = middle;
  }
  const step = line.station[low + 1] - line.station[low];
  const part = step > 0 ? (station - line.station[low]) / step : 0;
  return { at: low, part: Math.min(1, Math.max(0, part)) };
}

export function between(values, place) {
  return values[place.at] + place.part * (values[place.at + 1] - values[place.at]);
}

export function pointAt(line, station) {
  const place = locate(line, station);
  return [0, 1, 2].map((axis) => {
    const a = line.xyz[3 * place.at + axis];
    return a + place.part * (line.xyz[3 * place.at + 3 + axis] - a);
  });
}
