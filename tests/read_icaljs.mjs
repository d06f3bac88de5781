// Reads one calendar a line (as a JSON string) and answers with its events, one JSON line each time.
import { createInterface } from "node:readline";
import { pathToFileURL } from "node:url";

const { default: ICAL } = await import(pathToFileURL(process.argv[2]).href);

function seen(component) {
  const event = new ICAL.Event(component);
  return {
    uid: event.uid,
    summary: event.summary,
    description: event.description,
    start: event.startDate.toJSDate().toISOString(),
    end: event.endDate.toJSDate().toISOString(),
    properties: component.getAllProperties().map((property) => property.name.toUpperCase()).sort(),
    alarms: component.getAllSubcomponents("valarm").map((alarm) => alarm.getFirstPropertyValue("trigger").toString()),
  };
}

for await (const line of createInterface({ input: process.stdin })) {
  let answer;
  try {
    const root = new ICAL.Component(ICAL.parse(JSON.parse(line)));
    answer = {
      name: root.getFirstPropertyValue("name"),
      kinds: root.getAllSubcomponents().map((part) => part.name),
      events: root.getAllSubcomponents("vevent").map(seen),
    };
  } catch (error) {
    answer = { error: String(error) };
  }
  console.log(JSON.stringify(answer));
}
