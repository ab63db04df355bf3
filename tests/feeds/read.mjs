// Reads a calendar from the standard input with ical.js and says what it found, as JSON.
import ICAL from "ical.js";
let text = "";
for await (const chunk of process.stdin) text += chunk;
const calendar = new ICAL.Component(ICAL.parse(text));
const said = (time) => (time.isDate ? time.toString() : time.toJSDate().toISOString());
console.log(JSON.stringify(calendar.getAllSubcomponents("vevent").map((one) => {
  const event = new ICAL.Event(one);
  return { title: event.summary, start: said(event.startDate), end: said(event.endDate) };
})));
