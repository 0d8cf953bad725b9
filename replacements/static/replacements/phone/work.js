// The record of the work with every field on one page, its photos and its log.
import { el, field, note } from "./asked.js";
import { alike, prepared, remember } from "./picture.js";
import { draft, finish, known, nothing, saver, today } from "./drafts.js";
import * as store from "./store.js";
import { cautions, pulled } from "./told.js";

export async function record(id) {
  const [it, forms] = [await known(id), await store.get("kept", "forms")];
  if (!it || !forms) return nothing();
  const back = it.given_back;
  const kept = await draft(it, "COMPLETION", {
    fields: back?.fields ?? {
      outcome: "REPLACED",
      finished_on: await today(),
      method_used: it.method,
      length_ft: it.length_ft ?? "",
    },
    photos: back?.photos ?? [],
    pull: back?.pull ?? null,
    log: null,
    machine: {},
    position: null,
  });
  const said = el("p", { class: "saved", "aria-live": "polite" });
  const save = saver(kept, said);
  const form = el(
    "form",
    {
      onsubmit: async (e) => {
        e.preventDefault();
        await finish(it, kept, {
          fields: { ...kept.fields },
          photos: kept.photos,
          pull: kept.log ? null : (kept.pull ?? null),
          log: kept.log,
          machine: kept.machine,
        });
      },
    },
    ...asked(forms, it).map((g) =>
      el(
        "fieldset",
        { class: "card" },
        el("legend", {}, g.title),
        mend(back, g.title),
        ...g.fields.map((f) => field(f, kept.fields, save)),
      ),
    ),
    photos(forms, kept, save, back),
    pulled(it) ? pullLog(forms, kept, save) : null,
    said,
    el("button", { type: "submit" }, "Hand in"),
  );
  return [
    el("h1", {}, "Record the work"),
    el("p", {}, `${it.number}, ${it.address}`),
    back
      ? note("caution", `Your record was ${back.answer}. It stands below as you sent it.`)
      : null,
    cautions(forms, "record", it),
    form,
  ].filter(Boolean);
}

// Where nothing is pulled there is no leading end, no grip and no tracer of a pull.
const OF_A_PULL = ["leading_outside_in", "cut_off_ft"];
const asked = (forms, it) =>
  forms.record.map((g) => ({
    ...g,
    fields: g.fields.filter((f) => pulled(it) || !OF_A_PULL.includes(f.name)),
  }));

// The reviewer's words, beside what is to be mended.
function mend(back, part) {
  const named = Object.entries(back?.mend ?? {}).find(
    ([name]) => name.toLowerCase() === part.toLowerCase(),
  );
  return named ? note("caution", el("strong", {}, "To mend: "), named[1]) : null;
}

// What the phone can tell of a photo; nothing of it refuses the photo.
function doubts(photo, forms) {
  const label = (kind) => forms.photos.find((p) => p.kind === kind)?.label ?? "";
  const of = photo.like?.number ? ` of ${photo.like.number}` : "";
  const same = photo.like ? `${label(photo.like.kind)}${of}` : "";
  const like = same ? `Looks like the same picture as: ${same}. Look again.` : "";
  return [
    photo.dark ? note("caution", "Too dark? Look at it, and take another with a light.") : null,
    like ? note("caution", like) : null,
    photo.blob && photo.kind.startsWith("NEW_AT")
      ? el("p", { class: "hint" }, "Is the end of the new pipe in the picture?")
      : null,
  ].filter(Boolean);
}

export function photos(forms, kept, save, back) {
  const grid = el("div", { class: "photos" });
  const where = el(
    "p",
    { class: "soft", "aria-live": "polite" },
    kept.position ? "The place of this phone is noted with new photos." : "",
  );
  const unread = {}; // by kind, the file that was chosen last and is no photo
  const draw = () =>
    grid.replaceChildren(
      ...forms.photos.map(({ kind, label }) => {
        const has = kept.photos.filter((p) => p.kind === kind);
        const shown = has.map((p) => {
          if (!p.blob) return el("span", { class: "soft" }, `${label}: sent before, kept`);
          const img = el("img", { alt: `${label}, taken` });
          img.src = URL.createObjectURL(p.blob);
          img.onload = () => URL.revokeObjectURL(img.src);
          img.onerror = () =>
            img.replaceWith(el("span", {}, `${label}: taken. This phone cannot show it.`));
          return img;
        });
        return el(
          "div",
          { class: has.length ? "photo has" : "photo" },
          ...shown,
          ...has.flatMap((p) => doubts(p, forms)),
          mend(back, label),
          unread[kind]
            ? note(
                "error",
                `${unread[kind]} is no photo that can be shown, and was not taken in. Take the photo again.`,
              )
            : null,
          el(
            "label",
            {},
            has.length ? `${label}: take another` : `Photo: ${label}`,
            el("input", {
              type: "file",
              accept: "image/jpeg,image/png,image/heic,image/heif",
              capture: "environment",
              "data-kind": kind,
              onchange: async (e) => {
                delete unread[kind];
                for (const file of e.target.files) {
                  const name = file.name || `${kind.toLowerCase()}.jpg`;
                  const read = await prepared(file);
                  if (!read) {
                    unread[kind] = name;
                    continue;
                  }
                  // One that was sent before has come back: the new one takes its place.
                  kept.photos = kept.photos.filter((p) => p.blob || p.kind !== kind);
                  const photo = { kind, name, position: kept.position, ...read };
                  photo.like = await alike(photo, kept.photos, kept.order);
                  kept.photos.push(photo);
                  await remember(photo, { id: kept.order, number: kept.number });
                }
                await save();
                draw();
              },
            }),
          ),
          has.length
            ? el(
                "button",
                {
                  type: "button",
                  class: "plain",
                  onclick: async () => {
                    kept.photos = kept.photos.filter((p) => p.kind !== kind);
                    await save();
                    draw();
                  },
                },
                "Remove",
              )
            : null,
        );
      }),
    );
  draw();
  const place = el(
    "button",
    {
      type: "button",
      class: "second",
      onclick: () => {
        if (!navigator.geolocation) {
          where.textContent = "This phone tells no place.";
          return;
        }
        where.textContent = "Looking for the place …";
        navigator.geolocation.getCurrentPosition(
          async ({ coords }) => {
            kept.position = {
              latitude: Number(coords.latitude.toFixed(6)),
              longitude: Number(coords.longitude.toFixed(6)),
              accuracy_m: Math.round(coords.accuracy),
            };
            kept.photos = kept.photos.map((p) => ({ ...p, position: p.position ?? kept.position }));
            await save();
            where.textContent = `Noted, good to about ${Math.round(coords.accuracy * 3.281)} ft.`;
          },
          () => {
            where.textContent = "The phone could not find its place; the photos go without.";
          },
          { enableHighAccuracy: true, timeout: 20000 },
        );
      },
    },
    "Note the place of this phone",
  );
  return el("fieldset", { class: "card" }, el("legend", {}, "Photos"), grid, place, where);
}

export function pullLog(forms, kept, save) {
  const name = el(
    "p",
    { class: "soft", "aria-live": "polite" },
    kept.log ? `Chosen: ${kept.log.name}` : "",
  );
  const input = el("input", {
    type: "file",
    id: "pull-log",
    accept: ".csv,.txt,.tsv,text/csv,text/plain",
    onchange: async (e) => {
      const file = e.target.files[0];
      kept.log = file
        ? { name: file.name, blob: new Blob([await file.arrayBuffer()], { type: file.type }) }
        : null;
      await save();
      name.textContent = file ? `Chosen: ${file.name}` : "";
    },
  });
  return el(
    "fieldset",
    { class: "card" },
    el("legend", {}, "Log of the pull"),
    el(
      "div",
      { class: "field" },
      el("label", { for: "pull-log" }, "Log file of the puller"),
      input,
      name,
    ),
    el(
      "details",
      {},
      el("summary", {}, "The log holds pressure, not force"),
      ...forms.pull.map((f) => field({ ...f, initial: undefined }, kept.machine, save)),
    ),
  );
}
