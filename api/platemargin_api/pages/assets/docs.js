// The reference, from the document that this service serves. Nothing is sent anywhere else: no validator, no other origin.

// Rows are text whatever their media type is called: an example of JSON lines is shown as it is, not as one string of JSON.
const rowsAsText = () => ({
  afterLoad(system) {
    const samples = system.fn.jsonSchema202012;
    const asJson = samples.getJsonSampleSchema;
    samples.getJsonSampleSchema = (schema, medium, config, example) =>
      medium === "application/x-ndjson" && typeof example === "string" ? example : asJson(schema, medium, config, example);
  },
});

window.addEventListener("DOMContentLoaded", () => {
  SwaggerUIBundle({
    url: "/openapi.json",
    dom_id: "#reference",
    deepLinking: true,
    docExpansion: "list",
    defaultModelsExpandDepth: -1,
    filter: true,
    tryItOutEnabled: true,
    validatorUrl: null,
    // Of the themes that come with it, one whose every colour stands out.
    syntaxHighlight: { theme: "obsidian" },
    presets: [SwaggerUIBundle.presets.apis],
    plugins: [rowsAsText],
  });
});
