import type { components, paths } from './schema';

/**
 * The office writes every field of what it answers, empty ones as `null`; its description marks those as ones that may be
 * left out. Answers are read as they are written.
 */
export type Whole<T> = T extends readonly unknown[]
  ? { [K in keyof T]: Whole<T[K]> }
  : T extends object
    ? { [K in keyof T]-?: Whole<Exclude<T[K], undefined>> }
    : T;

type Schemas = components['schemas'];
type Shown<K extends keyof Schemas> = Whole<Schemas[K]>;

type Json<A> = A extends { responses: { 200: { content: { 'application/json': infer T } } } } ? T : never;
type Sent<A> = A extends { requestBody: { content: { 'application/json': infer T } } } ? T : undefined;

/** Addresses that can be asked for, and what they answer. */
export type GetPath = { [P in keyof paths]: paths[P] extends { get: object } ? P : never }[keyof paths];
export type Got<P extends GetPath> = paths[P] extends { get: infer A } ? Whole<Json<A>> : never;

/** Addresses that can be written to, what they take and what they answer. */
export type PostPath = { [P in keyof paths]: paths[P] extends { post: object } ? P : never }[keyof paths];
export type Posted<P extends PostPath> = paths[P] extends { post: infer A } ? Whole<Json<A>> : never;
export type Words<P extends PostPath> = paths[P] extends { post: infer A } ? Sent<A> : never;

/** The answer inside an answer that says what it rests on. */
export type Inner<T> = T extends { answer: infer A } ? A : never;

export type AsOf = Shown<'AsOf'>;
export type Note = Shown<'NoteView'>;
export type News = Shown<'News'>;
export type Dates = Shown<'DatesView'>;
export type Range = Shown<'RangeView'>;
export type Load = Shown<'LoadView'>;
export type Job = Shown<'JobView'>;
export type Stop = Shown<'StopView'>;
export type Run = Shown<'RunView'>;
export type Due = Shown<'DueView'>;
export type Gate = Shown<'GateView'>;
export type Bill = Shown<'BillView'>;
export type Morning = Shown<'MorningView'>;
export type Mended = Shown<'MendedView'>;
export type YardLine = Shown<'YardLine'>;
export type YardPage = Shown<'YardPage'>;
export type Running = Shown<'RunningView'>;
export type Gear = Shown<'GearView'>;
export type Doubt = Shown<'DoubtView'>;
export type TallyShown = Shown<'TallyView'>;
export type Ahead = Shown<'AheadView'>;
export type WhatIf = Shown<'WhatIfView'>;
export type Otherwise = Schemas['OtherwiseWords'];
export type SeasonShown = Shown<'SeasonView'>;
export type Outlook = Shown<'YardView'>;
export type EntryLine = Shown<'EntryView'>;
export type BookPage = Shown<'BookPage'>;
export type Outfit = Shown<'OutfitView'>;
export type ImportShown = Shown<'ImportView'>;
export type Begin = Schemas['BeginWords'];
export type TallyTold = Schemas['TallyTold'];
export type Me = Shown<'MeView'>;
export type Device = Shown<'DeviceView'>;
export type Code = Shown<'CodeView'>;
export type Pack = Shown<'PackView'>;
export type JobRule = Shown<'JobRuleView'>;
export type SignTable = Shown<'SignTableView'>;
export type Sign = Shown<'SignView'>;
export type SignSpan = Shown<'SignSpanView'>;
