"""The Kubernetes manifests: valid by the strict schemas of the API, and as hard as the image's own test runs it.

That the autoscaler scales and the network policy holds is not shown here: it takes a cluster.
"""

from pathlib import Path

import pytest
import yaml

MANIFEST = Path(__file__).parents[2] / "docker/kubernetes/platemargin.yaml"
DOCUMENTS = [document for document in yaml.safe_load_all(MANIFEST.read_text(encoding="utf-8")) if document]
BY_KIND = {document["kind"]: document for document in DOCUMENTS}
POD = BY_KIND["Deployment"]["spec"]["template"]["spec"]
(CONTAINER,) = POD["containers"]


@pytest.mark.parametrize("document", DOCUMENTS, ids=BY_KIND)
def test_it_is_what_the_api_takes(document):
    kubernetes_validate = pytest.importorskip("kubernetes_validate", reason="the package kubernetes-validate is not installed")
    kubernetes_validate.validate(document, kubernetes_validate.latest_version(), strict=True)


def test_there_is_each_of_them():
    kinds = {"ServiceAccount", "Deployment", "Service", "PodDisruptionBudget", "HorizontalPodAutoscaler", "NetworkPolicy"}
    assert set(BY_KIND) == kinds
    selected = {"app.kubernetes.io/name": "platemargin"}
    assert BY_KIND["Deployment"]["spec"]["template"]["metadata"]["labels"] == selected
    assert BY_KIND["Service"]["spec"]["selector"] == selected
    for kind in ("PodDisruptionBudget", "Deployment"):
        assert BY_KIND[kind]["spec"]["selector"]["matchLabels"] == selected
    assert BY_KIND["NetworkPolicy"]["spec"]["podSelector"]["matchLabels"] == selected


def test_it_has_no_privilege_and_writes_nowhere_but_where_it_is_given():
    assert POD["securityContext"]["runAsNonRoot"] is True
    assert POD["automountServiceAccountToken"] is False
    held = CONTAINER["securityContext"]
    assert (held["privileged"], held["allowPrivilegeEscalation"], held["readOnlyRootFilesystem"]) == (False, False, True)
    assert held["capabilities"] == {"drop": ["ALL"]}
    volumes = {volume["name"]: volume for volume in POD["volumes"]}
    written = {mount["mountPath"]: volumes[mount["name"]] for mount in CONTAINER["volumeMounts"] if not mount.get("readOnly")}
    assert set(written) == {"/tmp", "/dev/shm"}  # noqa: S108  paths within the container
    assert all("sizeLimit" in volume["emptyDir"] for volume in written.values())


def test_it_is_given_time_to_go():
    """The drain, then gunicorn's own time for what is being answered, before it would be killed."""
    from platemargin_api import server  # noqa: PLC0415

    drain = next(int(one["value"]) for one in CONTAINER["env"] if one["name"] == "PLATEMARGIN_DRAIN_SECONDS")
    assert POD["terminationGracePeriodSeconds"] > drain + server.graceful_timeout


def test_its_settings_and_probes_are_the_services():
    from platemargin_api.app import create_app  # noqa: PLC0415
    from platemargin_api.settings import Settings  # noqa: PLC0415

    told = {one["name"]: one["value"] for one in CONTAINER["env"]}
    settings = Settings.from_environment(told)
    assert (str(settings.key_file), settings.drain_seconds) == ("/etc/platemargin/keys.toml", 10)
    client = create_app().test_client()
    for probe in ("startupProbe", "readinessProbe", "livenessProbe"):
        assert client.get(CONTAINER[probe]["httpGet"]["path"]).status_code == 200


def test_it_is_asked_for_and_bounded():
    assert CONTAINER["resources"]["limits"]["memory"]
    assert set(CONTAINER["resources"]["requests"]) == {"cpu", "memory", "ephemeral-storage"}
    assert BY_KIND["NetworkPolicy"]["spec"]["egress"] == []
    assert BY_KIND["HorizontalPodAutoscaler"]["spec"]["minReplicas"] == BY_KIND["Deployment"]["spec"]["replicas"] == 2
