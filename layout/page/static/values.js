// Values of the job as they are typed, and typed words as values of the job. What is right is for the reader to say.

const NUMBER = /^-?(\d+(\.\d*)?|\.\d+)$/;
const THOUSANDS = /^-?\d{1,3}(,\d{3})+(\.\d+)?$/;

export function typed(value) {
  if (value === undefined || value === null) return "";
  if (Array.isArray(value)) return value.map(typed).join(", ");
  if (typeof value === "object") return "…";
  return String(value);
}

export function typedRange(value) {
  return Array.isArray(value) ? value.map(typed).join(" to ") : typed(value);
}

// What was typed in a field of a kind; undefined for nothing.
export function meant(field, words) {
  const text = words.trim();
  if (!text) return undefined;
  if (field.kind === "text" || field.kind === "date" || field.kind === "choice") return text;
  if (field.kind === "range") {
    const ends = text.split(/\s+to\s+|\s*\.\.\s*/);
    return ends.length === 2 ? ends.map(plain) : plain(text);
  }
  if (field.kind === "list") {
    return text.split(/\s*[,;]\s*/).filter(Boolean).map(field.item === "length" || field.item === "number" ? plain : String);
  }
  if (field.kind === "number" && THOUSANDS.test(text)) return Number(text.replaceAll(",", ""));
  return plain(text);
}

const plain = (text) => (NUMBER.test(text) ? Number(text) : text);

// The level at the right end of a profile, to go on with on the next face.
export function lastLevel(value) {
  if (!Array.isArray(value)) return value;
  const last = value[value.length - 1];
  return Array.isArray(last) ? last[1] : undefined;
}

export function profileWords(value) {
  if (!Array.isArray(value)) return typed(value);
  const levels = value.map((point) => (Array.isArray(point) ? typed(point[1]) : "?"));
  const parts = levels.filter((level, index) => index === 0 || level !== levels[index - 1]);
  return parts.length > 3 ? `${parts[0]} … ${parts[parts.length - 1]}` : parts.join(" → ");
}

export function profileKind(value) {
  const stations = value.map((point) => (Array.isArray(point) ? typed(point[0]) : "?"));
  if (stations.some((station, index) => index > 0 && station === stations[index - 1])) return "stepped";
  const levels = new Set(value.map((point) => (Array.isArray(point) ? typed(point[1]) : "?")));
  return levels.size > 1 ? "sloped" : "level";
}

export function freeTag(letter, taken) {
  for (let number = 1; ; number += 1) if (!taken.has(letter + number)) return letter + number;
}
