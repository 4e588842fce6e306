"""plan.json of versions 1 and 2, as those revisions wrote them, read as the present version."""

import copy
import json
from pathlib import Path

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from buildplan.errors import InputError
from buildplan.report import as_json
from buildplan.report.as_json import plan_schema, read_plan_json

SAMPLES = Path(__file__).parents[2] / "data" / "plans"


@pytest.fixture(scope="module")
def valid():
    jsonschema.Draft202012Validator.check_schema(plan_schema())
    return jsonschema.Draft202012Validator(plan_schema()).validate


def old(version):
    return json.loads((SAMPLES / f"plan_v{version}.json").read_text("utf-8"))


@pytest.mark.parametrize("version", [1, 2])
def test_an_older_file_becomes_the_present_version(valid, version):
    before = old(version)
    assert before["schema_version"] == version
    with pytest.raises(jsonschema.ValidationError):
        valid(before)
    now = read_plan_json(SAMPLES / f"plan_v{version}.json")
    valid(now)
    assert now["schema_version"] == as_json.SCHEMA_VERSION
    assert now["totals"]["bill_cost"] == before["totals"]["bill_cost"]
    assert now["parts"][0]["estimate"] == before["parts"][0]["estimate"]
    assert now["device"] is None
    assert now["totals"]["logged_prints"] is None
    assert now["parts"][0]["options"][0]["basis"] is None


def test_version_1_knew_no_checks_and_version_2_keeps_them():
    assert read_plan_json(SAMPLES / "plan_v1.json")["parts"][0]["checks"] is None
    assert read_plan_json(SAMPLES / "plan_v1.json")["budget"] is None
    second = read_plan_json(SAMPLES / "plan_v2.json")
    assert second["parts"][0]["checks"] == old(2)["parts"][0]["checks"]
    assert second["budget"] == old(2)["budget"]


def test_what_is_written_now_is_valid_and_read_as_it_is(valid, troubled):
    made = as_json.plan_object(troubled)
    valid(made)
    assert read_plan_json(as_json.dump(made)) == json.loads(as_json.dump(made))


def test_text_and_path_say_the_same():
    path = SAMPLES / "plan_v1.json"
    assert read_plan_json(path) == read_plan_json(path.read_text("utf-8"))
    assert read_plan_json(str(path)) == read_plan_json(path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('{"schema_version": 4}', "schema_version 4 is newer than 3"),
        ('{"schema_version": "3"}', 'schema_version "3" found'),
        ('{"schema_version": true}', "schema_version true found"),
        ("{}", "schema_version null found"),
        ("[]", "list found, an object is needed"),
        ('{"schema_version": 3,', "no JSON"),
        ('{"schema_version": 1, "name": "x"}', "'currency' is missing"),
        ("no_such_plan.json", "cannot be read"),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_line(text, said):
    with pytest.raises(InputError) as found:
        read_plan_json(text)
    assert said in str(found.value)
    assert "\n" not in str(found.value)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    version=st.sampled_from([1, 2]),
    key=st.sampled_from(["name", "totals", "parts", "bill", "first"]),
    value=st.sampled_from([None, 3, "x", [3], {"a": 1}, [{"options": 2}], [{"options": [2]}]]),
)
def test_a_damaged_file_is_refused_or_read_never_a_crash(version, key, value):
    broken = copy.deepcopy(old(version))
    broken[key] = value
    try:
        read = read_plan_json(json.dumps(broken))
    except InputError:
        return
    assert read["schema_version"] == as_json.SCHEMA_VERSION
