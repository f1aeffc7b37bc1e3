// Which of the asked tones are in which recording, as far as that can be told.
//
// heard: [[sounding MIDI or null, …] or null (couldn't be opened), …], a list a recording, in the order of recording.
// asked: [{slot, sounding_midi}, …], what is still to play, in the day's order.
// Answer: [[slot, …] or null (it can't be told: ask), …].

const NEAR_SEMITONES = 0.6;

const fits = (note, tone) => note === null || Math.abs(note - tone.sounding_midi) <= NEAR_SEMITONES;

// The only way to lay `notes` among `asked` in order, as places; null when there is none, or more than one.
function onlyWay(notes, asked) {
  const first = forwards(notes, asked);
  const last = forwards([...notes].reverse(), [...asked].reverse())?.map((place) => asked.length - 1 - place).reverse();
  return first && first.every((place, i) => place === last[i]) ? first : null;
}

// As early as each can lie.
function forwards(notes, asked) {
  let from = 0;
  const places = [];
  for (const note of notes) {
    const place = asked.findIndex((tone, i) => i >= from && fits(note, tone));
    if (place === -1) return null;
    places.push(place);
    from = place + 1;
  }
  return places;
}

// As many as are asked, and most of them the asked notes: then a wrong note is a wrong note, and its place is known.
function oneByOne(notes, asked) {
  if (notes.length !== asked.length) return null;
  const right = notes.filter((note, i) => note !== null && fits(note, asked[i])).length;
  return 2 * right >= notes.length ? notes.map((_, place) => place) : null;
}

export function match(heard, asked) {
  const slotsOf = (places) => places.map((place) => asked[place].slot);
  if (heard.every((notes) => notes?.length)) {
    const notes = heard.flat();
    const places = oneByOne(notes, asked) ?? onlyWay(notes, asked);
    if (places) return heard.map((own) => slotsOf(places.splice(0, own.length)));
  }
  const alone = heard.map((notes) => (notes?.length ? onlyWay(notes, asked) : null));
  const claims = alone.flatMap((places) => places ?? []);
  const isClaimedOnce = (place) => claims.indexOf(place) === claims.lastIndexOf(place);
  return alone.map((places) => (places?.every(isClaimedOnce) ? slotsOf(places) : null));
}
