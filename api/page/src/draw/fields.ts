/** What can be stated of each kind of thing, by the names of the layout document. */

export interface FieldSpec {
  field: string;
  label: string;
  hint?: string;
  options?: readonly (readonly [string, string])[];
  yesNo?: boolean;
  wide?: boolean;
}

type Options = readonly (readonly [string, string])[];

/** Options of words that say themselves, after 'not stated'. */
const words = (...all: string[]): Options => [["", "not stated"], ...all.map((w): [string, string] => [w, w])];

export const MATERIALS = words("carbon steel", "galvanized steel", "stainless steel", "copper", "cast iron", "ductile iron", "pvc", "cpvc", "pex", "hdpe", "lined steel");
export const COVERINGS = words("bare", "insulation", "fixed");
export const VALVE_KINDS = words("gate", "globe", "ball", "butterfly", "cock", "check", "balancing", "control", "pressure reducing", "other");
export const FITTINGS = words("tee", "cross", "elbow", "reducer", "cap", "blind", "flange", "union", "coupling", "weld", "strainer", "meter", "other");
export const SOURCE_KINDS: Options = [["main", "main"], ["pump", "pump"], ["raised tank", "raised tank"], ["expansion vessel", "expansion vessel"]];
export const EQUIPMENT_KINDS: Options = [["heater", "heater"], ["cooler", "cooler"], ["tank", "tank"]];
export const GOES_ON: Options = [["", "no: it ends here"], ["fed", "yes, fed: water may come or leave"], ["dead", "yes, dead: at rest, nowhere to go"]];

const NAME: FieldSpec = { field: "name", label: "What people call it" };
const MEANT: FieldSpec = { field: "meant", label: "Meant as it is (the word that is asked for)", wide: true };
const PLACE: FieldSpec[] = [
  { field: "station", label: "Station on its pipe", hint: "4 ft" },
  { field: "body", label: "Face to face", hint: "6 in" },
];

/** First what a drawing can not do without, then the rest behind 'More'. */
export const FIELDS: Record<string, { first: FieldSpec[]; more: FieldSpec[] }> = {
  pipe: {
    first: [
      { field: "length", label: "Length", hint: "24 ft 6 in" },
      { field: "size", label: "Size", hint: "2 in" },
      { field: "material", label: "Material", options: MATERIALS },
      { field: "wall", label: "Wall", hint: "sch 40" },
    ],
    more: [
      { field: "clear_space", label: "Free space all round", hint: "12 in" },
      { field: "covering", label: "Covering", options: COVERINGS },
      { field: "water_temperature", label: "Water in it", hint: "60 degF" },
      { field: "fluid", label: "What fills it", hint: "plain water" },
      { field: "pressure_rating", label: "Its weakest part stands", hint: "200 psi" },
      { field: "flow", label: "Flow while freezing", options: [["", "by the network"], ["flowing", "flowing"], ["none", "none"]] },
      { field: "low_temperature_accepted_by", label: "Who accepted its wall for the cold", wide: true },
      NAME,
      MEANT,
    ],
  },
  junction: {
    first: [
      { field: "elevation", label: "Height", hint: "14 ft" },
      { field: "fitting", label: "What stands there", options: FITTINGS },
      { field: "goes_on", label: "Does the pipe go on?", options: GOES_ON, wide: true },
    ],
    more: [{ field: "body", label: "Face to face", hint: "6 in" }, { field: "defective", label: "Known to be bad", yesNo: true }, NAME, MEANT],
  },
  valve: { first: [{ field: "kind", label: "Kind", options: VALVE_KINDS }, ...PLACE], more: [NAME, MEANT] },
  pump: { first: [...PLACE, { field: "shutoff_head", label: "Rise at no flow", hint: "30 psi" }], more: [NAME, MEANT] },
  equipment: {
    first: [{ field: "kind", label: "Kind", options: EQUIPMENT_KINDS }, ...PLACE, { field: "level", label: "A tank's water level", hint: "40 ft" }, { field: "volume", label: "A tank's volume", hint: "80 gal" }],
    more: [NAME, MEANT],
  },
  source: {
    first: [
      { field: "kind", label: "Kind", options: SOURCE_KINDS },
      { field: "pressure", label: "Highest pressure", hint: "60 psi" },
      { field: "level", label: "A raised tank's level", hint: "60 ft" },
      { field: "volume", label: "How much it can let out", hint: "no end" },
    ],
    more: [NAME, MEANT],
  },
  outlet: { first: [], more: [NAME, MEANT] },
  fitting: { first: [{ field: "kind", label: "Kind", options: FITTINGS.slice(1) }, { field: "station", label: "Station on its pipe", hint: "4 ft" }, { field: "body", label: "Face to face", hint: "3 in" }], more: [{ field: "defective", label: "Known to be bad", yesNo: true }] },
  plug: { first: [], more: [NAME, MEANT] },
  obstruction: { first: [{ field: "bottom", label: "Its underside", hint: "8 ft" }, { field: "top", label: "Its top", hint: "10 ft" }], more: [NAME] },
  room: {
    first: [
      { field: "floor_area", label: "Floor", hint: "200 ft2" },
      { field: "height", label: "Floor to ceiling", hint: "10 ft" },
      { field: "volume", label: "Or its free volume", hint: "2000 ft3" },
      { field: "air_changes", label: "Air changes", hint: "6 per hour" },
      { field: "ventilation", label: "Or fresh air", hint: "400 cfm" },
      { field: "flood_depth", label: "Water that does harm", hint: "4 in" },
      { field: "below_ground", label: "Below ground", yesNo: true },
      { field: "carbon_dioxide_meter", label: "CO2 meter in use", yesNo: true },
      { field: "oxygen_meter", label: "Oxygen meter in use", yesNo: true },
    ],
    more: [NAME, MEANT],
  },
};

/** What is stated once for every pipe that does not say otherwise. */
export const OF_THE_SITE: FieldSpec[] = [
  { field: "material", label: "Material of the pipes", options: MATERIALS },
  { field: "wall", label: "Wall of the pipes", hint: "sch 40" },
  { field: "clear_space", label: "Free space round the pipes", hint: "12 in" },
  { field: "covering", label: "Covering", options: COVERINGS },
  { field: "air_temperature", label: "Air round the pipes", hint: "68 degF" },
];
