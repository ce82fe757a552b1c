// The reference, from the document that this service serves. Nothing is sent anywhere else: no validator, no other origin.
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
  });
});
