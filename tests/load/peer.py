"""The peer: FastAPI, its models made of the same bounds, calling the same functions; it tells the result and nothing else."""

from datetime import date
from typing import Annotated, Literal

import marshmallow as ma
import work
from fastapi import FastAPI
from pydantic import BaseModel, ConfigDict, Field, create_model

from platemargin_api import fields
from platemargin_api.answer import arguments_of

SURVEY = work.registry().calculations["hull-survey"]


def model_of(schema, *, strict):
    """Return a pydantic model of a schema."""
    members = {name: member(field, strict=strict) for name, field in schema.fields.items()}
    config = ConfigDict(extra="forbid" if strict else "ignore")
    return create_model(type(schema).__name__, __config__=config, **members)


def member(field, *, strict):
    kind = kind_of(field, strict=strict)
    if strict and field.required:
        return kind, ...
    return kind | None, None if field.load_default is ma.missing else field.load_default


def kind_of(field, *, strict):
    if isinstance(field, fields.Object):
        return model_of(field.schema, strict=strict)
    if isinstance(field, fields.Choice):
        return Literal[field.names]
    if isinstance(field, (fields.Flag, fields.Day)):
        return bool if isinstance(field, fields.Flag) else date
    return bounded(field, field.validators[0], strict=strict)


def bounded(field, bounds, *, strict):
    if isinstance(field, (fields.Text, fields.List)):
        kind = str if isinstance(field, fields.Text) else list[kind_of(field.inner, strict=strict)]
        return Annotated[kind, Field(min_length=bounds.min, max_length=bounds.max)]
    return Annotated[int if isinstance(field, fields.Integer) else float, Field(ge=bounds.min, le=bounds.max)]


ReadingsIn = model_of(work.READINGS.request, strict=True)
ReadingsOut = model_of(work.READINGS.response, strict=False)
SurveyIn = model_of(SURVEY.request, strict=True)
SurveyOut = model_of(SURVEY.response, strict=False)

app = FastAPI()


def members(model: BaseModel):
    return model.model_dump(exclude_none=True)


@app.post("/constant")
async def constant():
    return {"status": "ok"}


@app.post("/readings")
async def readings(sent: ReadingsIn) -> ReadingsOut:
    return work.READINGS.write(work.left(members(sent)["readings"]))


@app.post("/readings-in-threads")
def readings_in_threads(sent: ReadingsIn) -> ReadingsOut:
    return work.READINGS.write(work.left(members(sent)["readings"]))


@app.post("/survey")
async def survey(sent: SurveyIn) -> SurveyOut:
    return SURVEY.write(SURVEY.offered.run(**arguments_of(SURVEY, work.registry(), members(sent))))
